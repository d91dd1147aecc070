package poll

import (
	"context"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

func wantLines(t *testing.T, what string, want, got []string) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

func TestRoundsCarryTheirAppointedMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(2*time.Minute + 40*time.Second) // 00:02:40: too late for 00:00
		a := &fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}, do: func(context.Context, int) (int64, error) {
			time.Sleep(750 * time.Millisecond)
			return 4000, nil
		}}
		p := fakePoller(t, Config{}, a)
		defer start(t, p)()
		wantLines(t, "rounds", []string{"00:05 a=4", "00:10 a=4", "00:15 a=4"}, rounds(p, 3))
		wantLines(t, "asked", []string{"00:05:00", "00:10:00", "00:15:00"}, a.times())
	})
}

func TestARoundJustMissedIsCaughtUpUnlessItIsOnRecord(t *testing.T) {
	for _, tt := range []struct {
		name   string
		newest time.Duration // after midnight
		want   string
	}{{"not on record", -5 * time.Minute, "00:00 a=4"}, {"on record", 0, "00:05 a=4"}} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				begin := time.Now()
				time.Sleep(90 * time.Second)
				p := fakePoller(t, Config{Clock: &Clock{Trust: true, Newest: func() time.Time { return begin.Add(tt.newest) }}},
					&fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}})
				defer start(t, p)()
				wantLines(t, "rounds", []string{tt.want}, rounds(p, 1))
			})
		})
	}
}

func TestEveryMinuteToEveryHourIsAllowed(t *testing.T) {
	for _, tt := range []struct {
		every time.Duration
		ok    bool
	}{{0, true}, {time.Minute, true}, {time.Hour, true}, {time.Second, false}, {90 * time.Second, false}, {2 * time.Hour, false}} {
		if _, err := New(Config{Every: tt.every}); (err == nil) != tt.ok {
			t.Errorf("every %v: %v", tt.every, err)
		}
	}
}

func TestAHungBusIsSilentAndTheOthersKeepTheirRhythm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		hung := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x44", probes: []sensors.ProbeID{"a"}, do: func(_ context.Context, n int) (int64, error) {
			if n == 1 {
				<-release // minds no deadline
				return 99000, nil
			}
			return 4000, nil
		}}
		mate := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x45", probes: []sensors.ProbeID{"b"}}
		other := &fakeChip{bus: "w1", chip: "w1 c", probes: []sensors.ProbeID{"c"}}
		p := fakePoller(t, Config{}, hung, mate, other)
		defer start(t, p)()
		got := rounds(p, 3)
		close(release)
		got = append(got, rounds(p, 2)...)
		wantLines(t, "rounds", []string{
			"00:00 a silent: no answer in 10s; b silent: the bus hangs since a was asked; c=4",
			"00:05 a silent: still has not come back; b silent: the bus hangs since a was asked; c=4",
			"00:10 a silent: still has not come back; b silent: the bus hangs since a was asked; c=4",
			"00:15 a=4 b=4 c=4", // the late answer of 99 °C is dropped
			"00:20 a=4 b=4 c=4",
		}, got)
		wantLines(t, "the hung chip is asked", []string{"00:00:00", "00:15:00", "00:20:00"}, hung.times())
		if len(hung.opened) != 2 || hung.closed != 1 {
			t.Errorf("opened %d and closed %d times: a fresh object is due on return", len(hung.opened), hung.closed)
		}
		wantLines(t, "the other bus is asked", []string{"00:00:00", "00:05:00", "00:10:00", "00:15:00", "00:20:00"}, other.times())
	})
}

func TestAHungKernelFileLeavesItsNeighboursAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		hung := &fakeChip{bus: "w1", chip: "w1 a", apart: true, probes: []sensors.ProbeID{"a"}, do: func(context.Context, int) (int64, error) {
			<-release
			return 0, nil
		}}
		mate := &fakeChip{bus: "w1", chip: "w1 b", apart: true, probes: []sensors.ProbeID{"b"}}
		p := fakePoller(t, Config{}, hung, mate)
		stop := start(t, p)
		wantLines(t, "rounds", []string{"00:00 a silent: no answer in 10s; b=4", "00:05 a silent: still has not come back; b=4"}, rounds(p, 2))
		wantLines(t, "the hung probe is asked", []string{"00:00:00"}, hung.times())
		stop()
		close(release) // the goroutine left behind ends when its read comes back
	})
}

func TestBackOffGrowsFromFiveSecondsToFiveMinutes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x44", probes: []sensors.ProbeID{"a"}, do: func(_ context.Context, n int) (int64, error) {
			if n >= 2 && n <= 9 {
				return 0, errGone
			}
			return 4000, nil
		}}
		p := fakePoller(t, Config{Every: time.Minute}, a)
		defer start(t, p)()
		got := rounds(p, 32)
		wantLines(t, "asked", []string{"00:00:00", "00:01:00", "00:02:00", "00:03:00", "00:04:00", "00:05:00", // 5, 10, 20, 40 s
			"00:07:00", "00:10:00", "00:15:00", "00:20:00", // 80 s, 160 s, then 5 min and no more
			"00:21:00", "00:22:00", "00:23:00", "00:24:00", "00:25:00", "00:26:00", "00:27:00", "00:28:00", "00:29:00", "00:30:00", "00:31:00"}, a.times())
		if a.closed != 8 || len(a.opened) != 9 {
			t.Errorf("opened %d, closed %d times: each try wants a fresh object", len(a.opened), a.closed)
		}
		wantLines(t, "while it waits", []string{"00:06 a silent: offline, tried again later;"}, got[6:7])
	})
}

func TestASourceThatOnlyListensIsNeverReopened(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &fakeChip{bus: "mqtt", chip: "topic t", waits: true, probes: []sensors.ProbeID{"a"}, do: func(context.Context, int) (int64, error) { return 0, errGone }}
		p := fakePoller(t, Config{}, a)
		defer start(t, p)()
		rounds(p, 6)
		if len(a.opened) != 1 || len(a.asked) != 6 {
			t.Errorf("opened %d, asked %d times", len(a.opened), len(a.asked))
		}
	})
}

func TestLateReadingsGoBeforeTheirRound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		old := time.Now().Add(-3 * time.Hour)
		batch := []sensors.LateReading{
			{At: old.Add(time.Hour), Reading: sensors.Reading{Probe: "a", Raw: 2, Step: units.Whole(units.Temperature)}},
			{At: old, Reading: sensors.Reading{Probe: "a", Raw: 1, Step: units.Whole(units.Temperature)}},
		}
		a := &fakeChip{bus: "files", chip: "file a", probes: []sensors.ProbeID{"a"}, late: func(n int) []sensors.LateReading {
			if n == 3 {
				return nil
			}
			return append([]sensors.LateReading(nil), batch...)
		}}
		p := fakePoller(t, Config{}, a)
		defer start(t, p)()
		first, round, again := <-p.Rounds(), <-p.Rounds(), <-p.Rounds()
		wantLines(t, "visits", []string{"00:00 late a@21:00 late a@22:00", "00:00 a=4", "00:05 late a@21:00 late a@22:00"}, []string{tell(first), tell(round), tell(again)})
		if first.Entry.Late.ID == "" || first.Entry.Late.ID != again.Entry.Late.ID {
			t.Errorf("the same batch twice has ids %q and %q", first.Entry.Late.ID, again.Entry.Late.ID)
		}
		if first.Seq != 1 || round.Seq != 2 {
			t.Errorf("sequence %d, %d", first.Seq, round.Seq)
		}
	})
}

func TestOneWordForABusThatFellSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		fails := func(context.Context, int) (int64, error) { return 0, errGone }
		var said notices
		p := fakePoller(t, Config{Env: drivers.Env{Notice: said.add}},
			&fakeChip{bus: "i2c-1", chip: "i2c-1 0x44", probes: []sensors.ProbeID{"a", "b"}, do: fails},
			&fakeChip{bus: "i2c-1", chip: "i2c-1 0x45", probes: []sensors.ProbeID{"c"}, do: fails},
			&fakeChip{bus: "w1", chip: "w1 x", probes: []sensors.ProbeID{"x"}, apart: true, do: fails},
			&fakeChip{bus: "w1", chip: "w1 y", probes: []sensors.ProbeID{"y"}, apart: true})
		defer start(t, p)()
		rounds(p, 2)
		synctest.Wait()
		wantLines(t, "after two rounds", nil, said.all())
		rounds(p, 30)
		synctest.Wait()
		wantLines(t, "said", []string{"i2c-1: nothing on i2c-1 has answered for 3 rounds: look at its plug and power", "w1: x (w1 x) has not answered for 3 rounds"}, said.all())
	})
}

// What was said of a silent chip is taken back with its first answer, and said again when it falls silent again.
func TestAWordOfSilenceIsTakenBackWhenTheChipAnswers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var said, back notices
		n := 0
		p := fakePoller(t, Config{Env: drivers.Env{Notice: said.add, Mended: back.add}},
			&fakeChip{bus: "w1", chip: "w1 x", probes: []sensors.ProbeID{"x"}, apart: true, do: func(context.Context, int) (int64, error) {
				if n++; n <= 4 || n > 12 && n <= 17 {
					return 0, errGone
				}
				return 4000, nil
			}}, &fakeChip{bus: "w1", chip: "w1 y", probes: []sensors.ProbeID{"y"}, apart: true})
		defer start(t, p)()
		rounds(p, 4)
		synctest.Wait()
		const text = "w1: x (w1 x) has not answered for 3 rounds"
		wantLines(t, "said", []string{text}, said.all())
		wantLines(t, "taken back", nil, back.all())
		rounds(p, 6)
		synctest.Wait()
		wantLines(t, "taken back", []string{text}, back.all())
		rounds(p, 20)
		synctest.Wait()
		wantLines(t, "said", []string{text, text}, said.all())
		wantLines(t, "taken back", []string{text, text}, back.all())
	})
}

func TestADriverThatPanicsIsOneSilentProbe(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x44", probes: []sensors.ProbeID{"a"}, do: func(context.Context, int) (int64, error) { panic("boom") }}
		b := &fakeChip{bus: "i2c-1", chip: "i2c-1 0x45", probes: []sensors.ProbeID{"b"}}
		p := fakePoller(t, Config{}, a, b)
		defer start(t, p)()
		wantLines(t, "rounds", []string{"00:00 a silent: the driver failed: boom; b=4", "00:05 a silent: the driver failed: boom; b=4"}, rounds(p, 2))
	})
}

func TestWorkersBeatAlsoWhileABusHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		a := &fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}, do: func(context.Context, int) (int64, error) { <-release; return 0, errGone }}
		p := fakePoller(t, Config{Every: 60 * time.Minute}, a)
		stop := start(t, p)
		go func() {
			for range p.Rounds() {
			}
		}()
		for range 90 {
			time.Sleep(time.Minute)
			for _, w := range p.Workers() {
				if ago := time.Since(w.Beat()); ago > w.Limit {
					t.Fatalf("%s was last alive %v ago, limit %v", w.Name, ago, w.Limit)
				}
			}
		}
		stop()
		close(release)
		close(p.out)
	})
}

func TestTheConductorStopsBeatingWhenNobodyTakesTheRounds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := fakePoller(t, Config{Every: time.Minute}, &fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}})
		defer start(t, p)()
		time.Sleep(time.Hour)
		if w := p.Workers()[0]; time.Since(w.Beat()) < w.Limit {
			t.Error("the watchdog would be fed although no round gets through")
		}
	})
}

func TestAskReadsOutsideTheRhythm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}}
		b := &fakeChip{bus: "w1", chip: "w1 b", probes: []sensors.ProbeID{"b"}}
		p := fakePoller(t, Config{}, a, b)
		defer start(t, p)()
		rounds(p, 1)
		time.Sleep(time.Minute)
		r, err := p.Ask(t.Context(), "b")
		if err != nil || len(r.Readings) != 1 || r.Readings[0].Probe != "b" {
			t.Errorf("asked for b: %+v, %v", r, err)
		}
		wantLines(t, "a is asked", []string{"00:00:00"}, a.times())
		wantLines(t, "b is asked", []string{"00:00:00", "00:01:00"}, b.times())
	})
}

func TestASensorFoundTwiceAtRunTimeIsReadOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := fakePoller(t, Config{}, &fakeChip{bus: "hwmon", chip: "hwmon jc42", probes: []sensors.ProbeID{"a"}, claims: "i2c-1 0x18"},
			&fakeChip{bus: "i2c-1", chip: "i2c-1 0x18", probes: []sensors.ProbeID{"b"}, claims: "i2c-1 0x18"})
		defer start(t, p)()
		wantLines(t, "rounds", []string{"00:00 a silent: the same sensor is read as b: one path to a sensor; b=4"}, rounds(p, 1))
	})
}

func TestAGardenOfManySlowProbesEndsItsRoundInTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var chips []*fakeChip
		for i := range 60 {
			chips = append(chips, &fakeChip{bus: "w1", chip: fmt.Sprintf("w1 %02d", i), apart: true, probes: []sensors.ProbeID{sensors.ProbeID(fmt.Sprintf("p%02d", i))},
				do: func(ctx context.Context, _ int) (int64, error) {
					select {
					case <-time.After(3 * time.Second):
						return 0, nil
					case <-ctx.Done():
						return 0, ctx.Err()
					}
				}})
		}
		p := fakePoller(t, Config{}, chips...)
		defer start(t, p)()
		v := <-p.Rounds()
		if took := time.Since(v.Entry.At); took > 2*time.Minute+2*time.Second {
			t.Errorf("the round took %v", took)
		}
		if n, m := len(v.Entry.Round.Readings), len(v.Entry.Round.Faults); n != 40 || m != 20 {
			t.Errorf("%d readings and %d faults", n, m)
		}
	})
}

func TestUnassignedThermometersAreListed(t *testing.T) {
	g := &garden.Garden{Probes: []garden.Probe{w1Probe("a", "28-000000000001")}}
	root := w1Tree(t, "28-000000000001", "28-000000000002", "00-400000000000")
	p, err := New(Config{Garden: g, Env: drivers.Env{Root: root}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range p.Unassigned() {
		got = append(got, f.Chip)
	}
	wantLines(t, "unassigned", []string{"w1 28-000000000002"}, got)
}
