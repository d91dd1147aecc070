package daemon

import (
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"time"
)

// A supervisor is whoever started us and listens on the socket named by NOTIFY_SOCKET (sd_notify, systemd's documented protocol):
// it hears that we are ready once configuration and journal are in, then a sign of life while every needed worker lives. The
// zero supervisor is nobody.
type supervisor struct {
	send  func(state string) error // nil: nobody listens
	every time.Duration            // how often it wants a sign of life; 0: not at all
}

// supervisorOf reads who listens from the environment.
func supervisorOf(env func(string) string) supervisor {
	path := env("NOTIFY_SOCKET")
	if path == "" {
		return supervisor{}
	}
	if path[0] == '@' {
		path = "\x00" + path[1:]
	}
	return supervisor{send: func(state string) error { return datagram(path, state) }, every: watchdog(env)}
}

func datagram(path, state string) error {
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		return fmt.Errorf("telling the supervisor: %w", err)
	}
	defer c.Close()
	_ = c.SetWriteDeadline(time.Now().Add(time.Second)) // a supervisor that does not read must not hold us up
	if _, err = c.Write([]byte(state)); err != nil {
		return fmt.Errorf("telling the supervisor: %w", err)
	}
	return nil
}

// watchdog is how often the supervisor wants a sign of life from this process; zero: not at all.
func watchdog(env func(string) string) time.Duration {
	us, err := strconv.ParseInt(env("WATCHDOG_USEC"), 10, 64)
	if pid := env("WATCHDOG_PID"); err != nil || us <= 0 || pid != "" && pid != strconv.Itoa(os.Getpid()) {
		return 0
	}
	return time.Duration(us) * time.Microsecond
}

// tell sends assignments and a status line for people; without anybody listening it does nothing.
func (s supervisor) tell(state, status string) error {
	if s.send == nil {
		return nil
	}
	var lines []string
	if state != "" {
		lines = append(lines, state)
	}
	if status = strings.Join(strings.Fields(status), " "); status != "" { // one line: what a name holds must not become an assignment
		lines = append(lines, "STATUS="+status)
	}
	return s.send(strings.Join(lines, "\n"))
}

// A slow start (the journal checked, brought to a new layout, a season walked) asks for a minute more every quarter of one, an
// hour long at most: a start that never ends must not pass for a slow one.
const (
	extendBy    = time.Minute
	extendEvery = extendBy / 4
	extendMost  = int(time.Hour / extendEvery)
)

// starting asks for more time until done is called.
func (s supervisor) starting(status string) (done func()) {
	if s.send == nil {
		return func() {}
	}
	over, ended := make(chan struct{}), make(chan struct{})
	go func() { // asks for time; ends with done
		defer close(ended)
		tick := time.NewTicker(extendEvery)
		defer tick.Stop()
		for range extendMost {
			_ = s.tell(fmt.Sprintf("EXTEND_TIMEOUT_USEC=%d", extendBy.Microseconds()), status) // the next one may arrive
			select {
			case <-over:
				return
			case <-tick.C:
			}
		}
	}()
	return func() { close(over); <-ended }
}
