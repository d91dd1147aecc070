package daemon

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// TestNothingIsLostWhileTheCardRefuses: the card fails again and again while rounds come in, the clock is wrong for a while and probes
// deliver late, however these fall together. In the end every round is on record once, at its true instant, with what it said.
func TestNothingIsLostWhileTheCardRefuses(t *testing.T) {
	start := time.Date(2026, 11, 10, 0, 0, 0, 0, time.UTC)
	for seed := range uint64(3) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			f, dice := newFaultYear(t, seed, "15 min", start), rand.New(rand.NewPCG(seed, 3))
			end := start.Add(4 * aDay)
			during := func(n int, apart, least, most time.Duration, add func(from, until time.Time)) {
				for at := start; n > 0; n-- {
					at = at.Add(apart + time.Duration(dice.Int64N(int64(4*aDay)/int64(2*n+2)))).Truncate(time.Minute)
					until := at.Add(least + time.Duration(dice.Int64N(int64(most-least)))).Truncate(time.Minute)
					add(at, until)
					at = until
				}
			}
			during(6, 0, time.Hour, 9*time.Hour, func(from, until time.Time) {
				f.mishaps = append(f.mishaps, mishap{row: []string{"D5", "D6"}[dice.IntN(2)], from: from, until: until})
			})
			during(4, time.Hour, 20*time.Minute, 55*time.Minute, func(from, until time.Time) {
				f.mishaps = append(f.mishaps, mishap{row: "K2", from: from, until: until})
			})
			kinds := maladies()
			for i := range kinds {
				if k := &kinds[i]; k.row == "Q3" {
					during(10, 0, time.Hour, 6*time.Hour, func(from, until time.Time) {
						f.sick = append(f.sick, &ailment{malady: k, number: len(f.sick), slots: k.pick(dice, f.probes), from: from, until: until, held: map[int]int64{}})
					})
				}
			}
			f.live(end, 15*time.Minute)
			card.refuse.Store(cardWell)
			f.wrong, f.mishaps = 0, nil
			f.live(end.Add(6*time.Hour), 15*time.Minute)
			if f.account.bent["Q3"] == 0 || f.account.bent["K2"] == 0 || f.account.bent["D5"]+f.account.bent["D6"] < 2 {
				t.Errorf("nothing befell the board: %v", f.account.bent)
			}
			f.nothingLost()
			if n := len(f.d.unkept) + len(f.d.unheld) + len(f.d.unplaced); n > 0 {
				t.Errorf("%d things still wait", n)
			}
		})
	}
}

// TestWhatWaitsIsWalkedToo: the season is walked anew while rounds wait in memory, and knows them.
func TestWhatWaitsIsWalkedToo(t *testing.T) {
	start := time.Date(2026, 11, 10, 0, 0, 0, 0, time.UTC)
	f := newFaultYear(t, 1, "30 min", start)
	f.live(start.Add(6*time.Hour), 30*time.Minute)
	card.refuse.Store(cardFull)
	f.live(start.Add(12*time.Hour), 30*time.Minute)
	before := f.d.walk.Standing()
	f.d.refold(t.Context())
	card.refuse.Store(cardWell)
	if after := f.d.walk.Standing(); len(f.d.unkept) != 12 || !after.At.Equal(before.At) || after.Sentence != before.Sentence {
		t.Errorf("%d rounds wait; walked to %v, %q, before to %v, %q", len(f.d.unkept), after.At, after.Sentence, before.At, before.Sentence)
	}
}

// TestLateReadingsPassTheDoor: what cannot be true is no more so for having come late.
func TestLateReadingsPassTheDoor(t *testing.T) {
	g, err := ParseGarden("garden.toml", []byte(faultGarden("10 min")))
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 11, 10, 0, 0, 0, 0, time.UTC)
	l := sensors.Late{ID: "node"}
	for i, v := range []int64{4000, 4050, 85_000, 0, 0, 4010, -127_000, 3990} {
		l.Readings = append(l.Readings, sensors.LateReading{At: at.Add(time.Duration(i) * 10 * time.Minute), Reading: sensors.Reading{Probe: "P01-t", Raw: v, Step: units.Whole(units.Temperature)}})
	}
	got := ""
	for _, r := range AdmitLate(g, l).Readings {
		got += fmt.Sprintf("%d %v ", r.Raw, r.Quality)
	}
	if want := "4000 valid 4050 valid 0 suspect 0 suspect 4010 valid 3990 valid "; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}

// BenchmarkRoundWhileTheCardRefuses: what a round costs while a day and a half of one-minute rounds wait, against one that is kept.
func BenchmarkRoundWhileTheCardRefuses(b *testing.B) {
	start := time.Date(2026, 11, 10, 0, 0, 0, 0, time.UTC)
	f := newFaultYear(b, 1, "1 min", start)
	f.live(start.Add(6*time.Hour), time.Minute)
	n, cost := f.account.rounds, f.account.daemon
	well := float64(cost) / float64(n)
	card.refuse.Store(cardFull)
	defer card.refuse.Store(cardWell)
	f.live(start.Add(36*time.Hour), time.Minute)
	n, cost = f.account.rounds, f.account.daemon
	for b.Loop() {
		f.live(f.now.Add(time.Minute), time.Minute)
	}
	b.ReportMetric(float64(f.account.daemon-cost)/float64(f.account.rounds-n)/well, "refused-ratio")
}
