package daemon

import (
	"context"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// neverByFault are the kinds that no fault may cause: each asks the keeper to do something to a plant.
var neverByFault = []string{"water", "water-light", "sitter-water", "frost-tonight", "root-cold", "too-wet", "leak", "drain-check"}

// near is how far a message may lie from the twin's about the same pot.
const near = 4 * aDay

// TestYearOfFaults is a year of 60 probes at one minute with every fault, drawn anew each month.
func TestYearOfFaults(t *testing.T) {
	if os.Getenv("LATHWATCH_LONG") == "" {
		t.Skip("left out: LATHWATCH_LONG=1 walks the year of faults")
	}
	start := time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)
	f := newFaultYear(t, 1, "1 min", start)
	for m := range 12 {
		from, until := start.AddDate(0, m, 0), start.AddDate(0, m+1, 0)
		f.fail(from, until, 1)
		f.live(until, time.Minute)
		t.Log(f.account.month(until, from))
	}
	if first, most := f.account.heap[0], slices.Max(f.account.heap); most > 2*first {
		t.Errorf("the heap grew from %.1f to %.1f MiB", first, most) // the twin, the plan and the truth book of a year are in it
	}
	f.report()
}

// TestThreeWeeksOfFaults is the same in short: three weeks of winter at ten minutes, in which every fault comes at least once.
func TestThreeWeeksOfFaults(t *testing.T) {
	start := time.Date(2026, 12, 5, 0, 0, 0, 0, time.UTC)
	f := newFaultYear(t, 1, "10 min", start)
	f.fail(start, start.Add(21*aDay), 1)
	f.live(start.Add(21*aDay), 10*time.Minute)
	f.report()
}

// drifting: nothing is attached, and the input goes slowly between 0.06 and 0.54 V.
func drifting(s *sickRound, a *ailment, _ int, r *sensors.Reading) sensors.FaultKind {
	whole(r, 300_000+int64(240_000*math.Sin(s.at.Sub(a.from).Hours()/9+6*a.size)))
	return 0
}

// TestAnOpenInputIsNeverWet: a moisture input with nothing attached drifts far above drained-full, whether its pot is thawed, near 0 °C or
// frozen when it comes off, and comes back after days.
func TestAnOpenInputIsNeverWet(t *testing.T) {
	start, dice := time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC), rand.New(rand.NewPCG(5, 5))
	f := newFaultYear(t, 2, "30 min", start)
	kind := &malady{row: "B5", of: inVolts, bend: drifting}
	for slot := range f.probes {
		for at := start; kind.of(&f.probes[slot]) && at.Before(start.Add(25*aDay)); {
			a := &ailment{malady: kind, number: len(f.sick), slots: []int{slot}, from: at.Add(time.Duration(dice.IntN(300)) * time.Hour), held: map[int]int64{}, size: dice.Float64()}
			at = a.from.Add(time.Duration(30+dice.IntN(250)) * time.Hour)
			a.until = at
			f.sick = append(f.sick, a)
		}
	}
	slices.SortStableFunc(f.sick, func(a, b *ailment) int { return a.from.Compare(b.from) })
	f.history = slices.Clone(f.sick)
	f.live(start.Add(30*aDay), 30*time.Minute)
	f.judge()
}

// TestWithoutFaultsTheDaemonSaysWhatItsTwinSays: what the faults hide, and nothing else, makes the difference.
func TestWithoutFaultsTheDaemonSaysWhatItsTwinSays(t *testing.T) {
	start, days, every := time.Date(2026, 11, 10, 0, 0, 0, 0, time.UTC), 10, 30*time.Minute
	if os.Getenv("LATHWATCH_LONG") != "" {
		start, days, every = time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC), 365, 10*time.Minute
	}
	f := newFaultYear(t, 1, fmt.Sprintf("%d min", every/time.Minute), start)
	f.live(start.AddDate(0, 0, days), every)
	var got, want []string
	for _, c := range f.said() {
		got = append(got, fmt.Sprint(c.At, c.Kind, c.Pots, c.Text))
	}
	for _, c := range f.wanted {
		want = append(want, fmt.Sprint(c.At, c.Kind, c.Pots, c.Text))
	}
	if diff := cmp.Diff(want, got); diff != "" || len(want) == 0 {
		t.Errorf("%d messages (-twin +daemon):\n%s", len(want), diff)
	}
	f.nothingLost()
}

// fail plans the faults of a span.
func (f *faultYear) fail(from, until time.Time, scale float64) {
	seed := uint64(from.Unix())
	f.sick = append(f.sick, plan(seed, f.probes, from, until, scale, f.garden.Site.Every)...)
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

// judge holds what was said against the twin and the truth.
func (f *faultYear) judge() {
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
	for i := range f.wanted {
		c := &f.wanted[i]
		for _, pot := range c.Pots {
			if slices.Contains(neverByFault, c.Kind) && !toldNear(got, c.Kind, pot, c.At) && !f.hidden(c) {
				t.Errorf("%s %s of %s was not said, and no fault hides it: %s\n%s", c.At.Format(time.DateTime), c.Kind, pot, c.Text, f.suspects(pot, *c))
			}
		}
	}
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
}

func (f *faultYear) report() {
	f.judge()
	f.everyFault()
	a := &f.account
	f.t.Logf("%d rounds of %d readings; CPU: daemon %v (%v a round), nights %v, faults %v", a.rounds, a.readings, a.daemon, a.daemon/time.Duration(max(a.rounds, 1)), a.nights, a.harness)
	f.nothingLost()
}

// hidden reports whether a fault of the probes of the pots it names (one is often named with another that is due), of the thermometers where it stands, or of the board may have kept a message
// from being given.
func (f *faultYear) hidden(c *alerts.Change) bool {
	from, until := c.At.Add(-8*aDay), c.At.Add(near)
	for _, a := range f.history {
		for _, s := range a.slots {
			p := &f.probes[s]
			air := p.Measures == garden.AirTemperature || p.Measures == garden.AirHumidity
			if (slices.Contains(c.Pots, p.Pot) || air && p.Place == c.Place) && a.from.Before(until) && a.until.After(from) {
				return true
			}
		}
	}
	return slices.ContainsFunc(f.mishaps, func(m mishap) bool {
		return m.row != "Q5" && m.from.Before(c.At.Add(aDay)) && m.until.After(c.At.Add(-aDay))
	})
}

// everyFault: none was left out.
func (f *faultYear) everyFault() {
	var rows []string
	for _, k := range maladies() {
		rows = append(rows, k.row)
	}
	for _, k := range mishapRows {
		rows = append(rows, k.row)
	}
	for _, row := range rows {
		if f.account.bent[row] == 0 {
			f.t.Errorf("%s never came about", row)
		}
	}
	f.t.Log("readings bent, and times the board was befallen:", f.account.bent)
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
