package daemon

import (
	"context"
	"fmt"
	"math/bits"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

// neverByFault are the kinds that no fault may cause: each asks the keeper to do something to a plant.
var neverByFault = []string{"water", "water-light", "sitter-water", "frost-tonight", "root-cold", "too-wet", "leak", "drain-check"}

// near is how far a message may lie from the twin's about the same pot.
const near = 4 * aDay

func TestYearOfFaults(t *testing.T) {
	if os.Getenv("LATHWATCH_LONG") == "" {
		t.Skip("left out: LATHWATCH_LONG=1 walks the year of faults")
	}
	insertCard(t)
	start := time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)
	f := newFaultYear(t, 1, "1 min", start)
	for m := range 12 {
		from, until := start.AddDate(0, m, 0), start.AddDate(0, m+1, 0)
		f.fail(from, until, 1)
		f.live(until, time.Minute)
		f.account.month(until, from)
	}
	f.report()
}

// fail plans the faults of a span.
func (f *faultYear) fail(from, until time.Time, scale float64) {
	seed := uint64(from.Unix())
	f.sick = append(f.sick, plan(seed, f.probes, from, until, scale)...)
	f.history = append(f.history, f.sick...)
	f.mishaps = append(f.mishaps, planMishaps(seed, from, until, scale)...)
}

// said are the messages of the daemon by its journal.
func (f *faultYear) said() (all []alerts.Change) {
	for c, err := range f.d.journal.Changes(context.Background(), time.Time{}) {
		if err != nil {
			f.t.Fatal(err)
		}
		if c.Text != "" && c.Kind != "digest" && c.To != alerts.ToDigest {
			all = append(all, c)
		}
	}
	return all
}

// toldNear reports whether one of these is of a kind and names a pot, near an instant.
func toldNear(all []alerts.Change, kind, pot string, at time.Time) bool {
	return slices.ContainsFunc(all, func(c alerts.Change) bool {
		d := c.At.Sub(at)
		return c.Kind == kind && d < near && d > -near && slices.Contains(c.Pots, pot)
	})
}

func (f *faultYear) report() {
	t := f.t
	t.Helper()
	got := f.said()
	same, true_, kept := 0, map[string]int{}, map[string]int{}
	for _, c := range got {
		if !slices.Contains(neverByFault, c.Kind) {
			continue
		}
		for _, pot := range c.Pots {
			switch {
			case toldNear(f.wanted, c.Kind, pot, c.At):
				same++
			case f.truth.supports(f.garden, c, pot):
				true_[c.Kind]++
			default:
				d := f.truth.days[pot][f.truth.day(c.At)]
				t.Errorf("%s %s of %s is false: %s\n\ttruth: water %.0f..%.0f %% of drained-full, core from %.1f °C\n%s", c.At.Format(time.DateTime), c.Kind, pot, c.Text, 100*d.low, 100*d.high, d.core, f.suspects(pot, c))
			}
		}
	}
	lost := map[string]int{}
	for _, c := range f.wanted {
		for _, pot := range c.Pots {
			if slices.Contains(neverByFault, c.Kind) {
				kept[c.Kind]++
				if !toldNear(got, c.Kind, pot, c.At) {
					lost[c.Kind]++
				}
			}
		}
	}
	t.Logf("said of a pot as the twin did %d times; true although the twin kept silent: %v; of the twin's %v not said: %v", same, true_, kept, lost)
	for _, line := range f.account.months {
		t.Log(line)
	}
	a := &f.account
	t.Logf("%d rounds of %d readings; CPU: daemon %v (%v a round), nights %v, faults %v", a.rounds, a.readings, a.daemon, a.daemon/time.Duration(max(a.rounds, 1)), a.nights, a.harness)
	f.nothingLost()
}

// suspects lists what ailed a pot, its place and the board in the eight days before a message.
func (f *faultYear) suspects(pot string, c alerts.Change) string {
	var b strings.Builder
	for _, a := range f.history {
		for _, s := range a.slots {
			p := &f.probes[s]
			if (p.Pot == pot || p.Place != "" && p.Place == c.Place) && a.from.Before(c.At) && a.until.After(c.At.Add(-12*aDay)) {
				fmt.Fprintf(&b, "\t%s %s from %s to %s\n", a.row, p.ID, a.from.Format(time.DateTime), a.until.Format(time.DateTime))
			}
		}
	}
	for _, m := range f.mishaps {
		if m.from.Before(c.At) && m.from.After(c.At.Add(-12*aDay)) {
			fmt.Fprintf(&b, "\t%s on the board from %s\n", m.row, m.from.Format(time.DateTime))
		}
	}
	return b.String()
}

// nothingLost: every round handed in is in the journal, at its true instant, once, and says what was handed in.
func (f *faultYear) nothingLost() {
	t, a := f.t, &f.account
	seen := make([]uint64, len(a.minutes))
	var sum uint64
	n, twice, strange := 0, 0, 0
	for e, err := range f.d.journal.Entries(context.Background(), time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Round == nil {
			continue
		}
		k := int(e.At.Sub(a.begin) / time.Minute)
		if k < 0 || k/64 >= len(seen) || e.At.Second() != 0 || a.minutes[k/64]&(1<<(k%64)) == 0 {
			strange++
			continue
		}
		if seen[k/64]&(1<<(k%64)) != 0 {
			twice++
		}
		seen[k/64] |= 1 << (k % 64)
		for i := range e.Round.Readings {
			sum += digestOf(e.At, &e.Round.Readings[i])
		}
		n += len(e.Round.Readings)
	}
	lost := 0
	for i := range seen {
		lost += bits.OnesCount64(a.minutes[i] &^ seen[i])
	}
	if lost+twice+strange > 0 || n != a.readings || sum != a.sum {
		t.Errorf("%d rounds lost, %d twice, %d nobody handed in; %d readings of %d", lost, twice, strange, n, a.readings)
	}
	if h, err := f.d.journal.Held(context.Background()); err != nil || len(h) > 0 {
		t.Errorf("%d rounds still wait for a clock, %v", len(h), err)
	}
}

var _ sensors.Round
