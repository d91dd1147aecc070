package poll

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/sensors"
)

// M2: a line on which most asks fail says how many did; a chip pulled out is down; what comes back is no longer.
func TestABusCountsWhatFailed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		flaky := func(_ context.Context, n int) (int64, error) {
			if n%2 == 0 {
				return 0, errGone
			}
			return 4000, nil
		}
		p := fakePoller(t, Config{}, &fakeChip{bus: "line", chip: "unit 1", probes: []sensors.ProbeID{"a", "b"}, do: flaky},
			&fakeChip{bus: "line", chip: "unit 2", probes: []sensors.ProbeID{"c"}}, &fakeChip{bus: "topics", chip: "topic x", probes: []sensors.ProbeID{"d"}, waits: true})
		defer start(t, p)()
		for i, want := range []struct {
			asked, failed uint64
			down          int
		}{{3, 0, 0}, {6, 2, 1}, {9, 2, 0}} {
			<-p.Rounds()
			answered := time.Now()
			b := p.Buses()
			if got := b[0]; got.Name != "line" || got.Chips != 2 || got.Asked != want.asked || got.Failed != want.failed || got.Down != want.down || got.Listens || answered.Sub(got.Answered) > time.Second {
				t.Errorf("after round %d: %+v, want %+v", i+1, got, want)
			}
			if !b[1].Listens {
				t.Error("topics are asked, not listened to")
			}
		}
		if _, err := p.Ask(t.Context(), "c"); err != nil || p.Buses()[0].Asked != 9 {
			t.Errorf("a look outside the rhythm was counted: %+v, %v", p.Buses()[0], err)
		}
	})
}
