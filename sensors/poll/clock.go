package poll

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

// A Clock says what time it is and whether to believe it: when the kernel is synchronised, or a hardware clock set it at boot,
// or the keeper vouches for it; never when it is earlier than the newest row on record. The zero Clock is this board's.
type Clock struct {
	Root   string           // of sys and proc; empty: this board
	Trust  bool             // the garden says clock = "trust"
	Newest func() time.Time // the newest row on record, zero when there is none; nil: none

	Wall func() time.Time              // default time.Now
	Boot func() (time.Duration, error) // time since boot, suspend included; default CLOCK_BOOTTIME
	Sync func() (bool, error)          // whether the kernel is synchronised; default adjtimex

	mu   sync.Mutex
	seen time.Time // the newest trusted round of this run
	id   string    // boot id
}

// A Stamp is an instant with what it is worth: a held round is placed by its boot and monotonic time once the clock is trusted.
type Stamp struct {
	Wall    time.Time     // UTC
	BootID  string        // of the kernel's run
	Mono    time.Duration // since boot, suspend included
	Trusted bool
	Why     string // why it is or is not trusted, for a person
}

// Stamp reads the clock.
func (c *Clock) Stamp() Stamp {
	s := Stamp{Wall: c.wall(), BootID: c.bootID()}
	s.Mono, _ = c.boot()
	s.Trusted, s.Why = c.trusted(s.Wall)
	return s
}

// Place gives the true instant of a held stamp, in whole seconds, by a later one that is trusted; false when that is of
// another boot and the time between is unknown.
func (s Stamp) Place(by Stamp) (time.Time, bool) {
	if !by.Trusted || s.BootID == "" || s.BootID != by.BootID || by.Mono < s.Mono {
		return time.Time{}, false
	}
	return by.Wall.Add(s.Mono - by.Mono).Round(time.Second), true
}

func (c *Clock) trusted(wall time.Time) (bool, string) {
	if newest := c.newest(); !wall.After(newest) { // nor the same: that instant has its round
		return false, fmt.Sprintf("the clock says %s, but there are rows up to %s", wall.Format(time.RFC3339), newest.UTC().Format(time.RFC3339))
	}
	if c.Trust {
		return true, "the garden trusts it"
	}
	synced, err := c.synced()
	switch {
	case synced:
		return true, "the kernel is synchronised"
	case c.hardware():
		return true, "a hardware clock set it at boot"
	case err != nil:
		return false, fmt.Sprintf("the kernel does not say whether it is synchronised (%v), and no hardware clock set it", err)
	}
	return false, "neither the network nor a hardware clock has set it"
}

// hardware reports whether a hardware clock set the system's at boot (Linux, Documentation/ABI/testing/sysfs-class-rtc: hctosys).
func (c *Clock) hardware() bool {
	files, _ := filepath.Glob(c.path("sys/class/rtc/*/hctosys"))
	for _, f := range files {
		if b, err := os.ReadFile(f); err == nil && strings.TrimSpace(string(b)) == "1" {
			return true
		}
	}
	return false
}

func (c *Clock) synced() (bool, error) {
	if c.Sync != nil {
		return c.Sync()
	}
	var tx unix.Timex // modes 0 only reads
	state, err := unix.Adjtimex(&tx)
	if err != nil {
		return false, err
	}
	return state != unix.TIME_ERROR && tx.Status&unix.STA_UNSYNC == 0, nil
}

func (c *Clock) boot() (time.Duration, error) {
	if c.Boot != nil {
		return c.Boot()
	}
	var ts unix.Timespec
	err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &ts)
	return time.Duration(ts.Nano()), err
}

func (c *Clock) bootID() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.id == "" {
		b, _ := os.ReadFile(c.path("proc/sys/kernel/random/boot_id"))
		c.id = strings.TrimSpace(string(b))
	}
	return c.id
}

func (c *Clock) path(p string) string {
	if c.Root == "" {
		return "/" + p
	}
	return filepath.Join(c.Root, p)
}

// wall is the time of day without Go's monotonic part, which stands still in suspend.
func (c *Clock) wall() time.Time {
	if c.Wall != nil {
		return c.Wall().Round(0).UTC()
	}
	return time.Now().Round(0).UTC()
}

func (c *Clock) newest() time.Time {
	c.mu.Lock()
	n := c.seen
	c.mu.Unlock()
	if c.Newest != nil {
		if r := c.Newest(); r.After(n) {
			n = r
		}
	}
	return n
}

// saw notes a trusted round, so that a step back is noticed before the row is on record.
func (c *Clock) saw(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if at.After(c.seen) {
		c.seen = at
	}
}
