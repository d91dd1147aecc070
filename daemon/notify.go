package daemon

import (
	"context"
	"fmt"
	"net"
	"os"
	"strconv"
	"time"
)

// A supervisor that started us speaks over the socket named by NOTIFY_SOCKET (sd_notify, systemd's documented protocol): ready
// once the configuration and the journal are in, then a sign of life while every needed worker has beaten within its limit.

// notify tells the supervisor; without one it does nothing.
func notify(state string) error {
	path := os.Getenv("NOTIFY_SOCKET")
	if path == "" {
		return nil
	}
	if path[0] == '@' {
		path = "\x00" + path[1:]
	}
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		return fmt.Errorf("telling the supervisor: %w", err)
	}
	defer c.Close()
	if _, err = c.Write([]byte(state)); err != nil {
		return fmt.Errorf("telling the supervisor: %w", err)
	}
	return nil
}

// watchdog is how often the supervisor wants a sign of life; zero: not at all.
func watchdog() time.Duration {
	us, err := strconv.ParseInt(os.Getenv("WATCHDOG_USEC"), 10, 64)
	if pid := os.Getenv("WATCHDOG_PID"); err != nil || us <= 0 || pid != "" && pid != strconv.Itoa(os.Getpid()) {
		return 0
	}
	return time.Duration(us) * time.Microsecond
}

// feed gives signs of life while every watched worker has beaten within its limit. A worker that is stuck stops them, and the
// supervisor starts us anew: one restart, since a start that finds the same bus wedged gives its workers their limit again.
func (d *Daemon) feed(roster []worker) func(context.Context) error {
	return func(ctx context.Context) error {
		every := watchdog() / 2
		if every == 0 {
			<-ctx.Done()
			return ctx.Err()
		}
		began := time.Now()
		tick := time.NewTicker(every)
		defer tick.Stop()
		for {
			if late := overdue(roster, began, time.Now()); late != "" {
				d.cfg.Log.Error("no sign of life", "worker", late)
			} else if err := notify("WATCHDOG=1\nSTATUS=" + d.Standing().Sentence); err != nil {
				d.cfg.Log.Warn("watchdog", "err", err)
			}
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-tick.C:
			}
		}
	}
}

// overdue names a watched worker that has not beaten within its limit, or "".
func overdue(roster []worker, began, now time.Time) string {
	for _, w := range roster {
		if w.beat == nil {
			continue
		}
		last := w.beat()
		if last.IsZero() {
			last = began
		}
		if now.Sub(last) > w.limit {
			return w.name
		}
	}
	return ""
}
