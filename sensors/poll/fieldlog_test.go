package poll

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// Known failures of real installations, each reproduced by its smallest input.
func TestFieldLog(t *testing.T) {
	t.Run("W7_probe_vanishes_and_returns", vanishes)
	t.Run("W9_two_paths_to_one_sensor", twoPaths)
	t.Run("W12_ids_never_move_to_another_pot", idsStay)
	t.Run("W14_read_never_returns", neverReturns)
	t.Run("B3_unplugged_chip", unplugged)
	t.Run("B5_two_owners_of_one_chip", twoOwners)
	t.Run("K1_boots_in_the_past", bootsInThePast)
	t.Run("K2_clock_stepped_back", steppedBack)
	t.Run("K4_suspend", suspend)
	t.Run("P2_bus_appears_later", appearsLater)
}

// notices gathers what is said, from whichever goroutine.
type notices struct {
	mu   sync.Mutex
	list []string
}

func (n *notices) add(bus, text string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.list = append(n.list, bus+": "+text)
}

func (n *notices) all() []string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return slices.Sorted(slices.Values(n.list))
}

func w1Probe(id sensors.ProbeID, chip string) garden.Probe {
	return garden.Probe{ID: id, Measures: garden.PotTemperature, Source: table.Raw{Name: "w1", Path: "probe " + string(id), Line: 1, Body: "id = \"" + chip + "\"\n"}}
}

const goodScratchpad = "58 01 4b 46 7f ff 08 10 f9 : crc=f9 YES\n58 01 4b 46 7f ff 08 10 f9 t=21500\n"

// w1Tree makes a fake bus with a warm thermometer of each id.
func w1Tree(t *testing.T, ids ...string) string {
	t.Helper()
	root := t.TempDir()
	for _, id := range ids {
		plug(t, root, id)
	}
	return root
}

func plug(t *testing.T, root, id string) {
	t.Helper()
	dir := filepath.Join(root, "sys/bus/w1/devices", id)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "w1_slave"), []byte(goodScratchpad), 0o644); err != nil {
		t.Fatal(err)
	}
}

func unplug(t *testing.T, root, id string) {
	t.Helper()
	if err := os.RemoveAll(filepath.Join(root, "sys/bus/w1/devices", id)); err != nil {
		t.Fatal(err)
	}
}

func vanishes(t *testing.T) {
	root := w1Tree(t, "28-000000000001")
	synctest.Test(t, func(t *testing.T) {
		var said notices
		p, err := New(Config{Garden: &garden.Garden{Probes: []garden.Probe{w1Probe("a", "28-000000000001")}},
			Env: drivers.Env{Root: root, Notice: said.add}, Clock: &Clock{Trust: true}})
		if err != nil {
			t.Fatal(err)
		}
		defer start(t, p)()
		got := rounds(p, 1)
		unplug(t, root, "28-000000000001")
		got = append(got, rounds(p, 4)...)
		plug(t, root, "28-000000000001")
		got = append(got, rounds(p, 1)...)
		wantLines(t, "rounds", []string{"00:00 a=21.5", "00:05 a silent: not on the bus;", "00:10 a silent: not on the bus;",
			"00:15 a silent: not on the bus;", "00:20 a silent: not on the bus;", "00:25 a=21.5"}, got)
		wantLines(t, "said", []string{"w1: a (w1 28-000000000001) has not answered for 3 rounds"}, said.all())
	})
}

func twoPaths(t *testing.T) {
	kernel := w1Probe("a", "28-000000000001")
	mon := garden.Probe{ID: "b", Measures: garden.PotTemperature, Source: table.Raw{Name: "hwmon", Path: "probe b", Line: 9,
		Body: "name = \"w1_slave_temp\"\ndevice = \"28-000000000001\"\nchannel = \"temp1\"\n"}}
	_, err := New(Config{Garden: &garden.Garden{Probes: []garden.Probe{kernel, mon}}})
	if err == nil || !strings.Contains(err.Error(), "w1 28-000000000001 has two owners: probe a reads it with w1, probe b with hwmon") {
		t.Errorf("got %v", err)
	}
	_, err = New(Config{Garden: &garden.Garden{Probes: []garden.Probe{kernel, kernel}}})
	if err == nil || !strings.Contains(err.Error(), "probe id a is given twice") {
		t.Errorf("got %v", err)
	}
}

func twoOwners(t *testing.T) {
	air := garden.Probe{ID: "a", Measures: garden.AirTemperature, Source: table.Raw{Name: "sht4x", Path: "probe a", Line: 1, Body: "bus = 1\naddress = 0x44\n"}}
	other := garden.Probe{ID: "b", Measures: garden.AirTemperature, Source: table.Raw{Name: "hdc302x", Path: "probe b", Line: 9, Body: "bus = 1\naddress = 0x44\n"}}
	_, err := New(Config{Garden: &garden.Garden{Probes: []garden.Probe{air, other}}})
	if err == nil || !strings.Contains(err.Error(), "i2c-1 0x44 has two owners: probe a reads it with sht4x, probe b with hdc302x") {
		t.Errorf("got %v", err)
	}
}

func idsStay(t *testing.T) {
	root := w1Tree(t, "28-00000000000a", "28-00000000000b")
	synctest.Test(t, func(t *testing.T) {
		p, err := New(Config{Garden: &garden.Garden{Probes: []garden.Probe{w1Probe("pot1", "28-00000000000a"), w1Probe("pot2", "28-00000000000b")}},
			Env: drivers.Env{Root: root}, Clock: &Clock{Trust: true}})
		if err != nil {
			t.Fatal(err)
		}
		defer start(t, p)()
		got := rounds(p, 1)
		unplug(t, root, "28-00000000000a")
		plug(t, root, "28-00000000000c")
		got = append(got, rounds(p, 1)...)
		wantLines(t, "rounds", []string{"00:00 pot1=21.5 pot2=21.5", "00:05 pot1 silent: not on the bus; pot2=21.5"}, got)
		if list := p.Unassigned(); len(list) != 1 || list[0].Chip != "w1 28-00000000000c" {
			t.Errorf("unassigned: %+v", list)
		}
	})
}

// neverReturns runs in real time: a FIFO without a writer blocks whoever opens it, as a hung kernel read does.
func neverReturns(t *testing.T) {
	root := w1Tree(t, "28-00000000000a", "28-00000000000b")
	fifo := filepath.Join(root, "sys/bus/w1/devices/28-00000000000a/w1_slave")
	if err := os.Remove(fifo); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(fifo, 0o644); err != nil {
		t.Skipf("no FIFO here: %v", err)
	}
	p, err := New(Config{Garden: &garden.Garden{Probes: []garden.Probe{w1Probe("a", "28-00000000000a"), w1Probe("b", "28-00000000000b")}},
		Env: drivers.Env{Root: root}, Answer: 500 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- p.buses[0].run(ctx) }()
	ask := func() string {
		r, _ := p.walk(ctx, time.Time{}, nil)
		return tell(Visit{Entry: sensors.Entry{Round: &r}})
	}
	got := []string{ask(), ask(), ask()}
	if since := p.Workers()[1].Hung(); since.IsZero() || time.Since(since) < 500*time.Millisecond {
		t.Errorf("a chip that has not come back hangs since %v", since)
	}
	w, err := os.OpenFile(fifo, os.O_WRONLY, 0) // the read comes back at last, with something that must not be counted
	if err == nil {
		_, err = w.WriteString(strings.ReplaceAll(goodScratchpad, "58 01", "ff ff"))
	}
	if err != nil || w.Close() != nil {
		t.Fatal(err)
	}
	_ = os.Remove(fifo)
	plug(t, root, "28-00000000000a")
	for i := 0; i < 500 && strings.Contains(got[len(got)-1], "still"); i++ {
		time.Sleep(10 * time.Millisecond)
		p.buses[0].slots[0].after = time.Time{} // nobody waits out the back-off in real time
		got = append(got, ask())
	}
	for i := 0; i < 200 && !p.Workers()[1].Hung().IsZero(); i++ {
		time.Sleep(10 * time.Millisecond)
	}
	if since := p.Workers()[1].Hung(); !since.IsZero() {
		t.Errorf("a chip that has come back still hangs since %v", since)
	}
	wantLines(t, "at first", []string{"00:00 a silent: no answer in 500ms; b=21.5", "00:00 a silent: still has not come back; b=21.5",
		"00:00 a silent: still has not come back; b=21.5"}, got[:3])
	wantLines(t, "at last", []string{"00:00 a=21.5 b=21.5"}, got[len(got)-1:])
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func unplugged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x44", probes: []sensors.ProbeID{"a"}, do: func(_ context.Context, n int) (int64, error) {
			if n >= 5 && n < 40 {
				return 0, errGone
			}
			return 4000, nil
		}}
		b := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x45", probes: []sensors.ProbeID{"b"}}
		p := fakePoller(t, Config{}, a, b)
		defer start(t, p)()
		got := rounds(p, 41)
		wantLines(t, "rounds", []string{"00:15 a=4 b=4", "00:20 a silent: remote I/O error; b=4"}, got[3:5])
		wantLines(t, "rounds", []string{"03:10 a silent: remote I/O error; b=4", "03:15 a=4 b=4", "03:20 a=4 b=4"}, got[38:])
		if len(a.opened) != 1+35 || len(b.opened) != 1 {
			t.Errorf("a was opened %d times, b %d times", len(a.opened), len(b.opened))
		}
	})
}

func appearsLater(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x44", probes: []sensors.ProbeID{"a"}, openErr: func(n int) error {
			if n < 3 {
				return os.ErrNotExist
			}
			return nil
		}}
		p := fakePoller(t, Config{}, a)
		defer start(t, p)()
		wantLines(t, "rounds", []string{"00:00 a silent: file does not exist;", "00:05 a silent: file does not exist;", "00:10 a=4"}, rounds(p, 3))
	})
}
