package sentinel_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"lathwatch/dashboards/sentinel"
)

// hundred invents a hundred pots at three places in two materials: each dries as its kind does, but for a fifth.
func hundred(rng *rand.Rand, base float64) (truth []float64, ts []sentinel.Trait) {
	for i := range 100 {
		t := sentinel.Trait{Pot: fmt.Sprintf("P%d", i), Place: []string{"table", "wall", "frame"}[i%3], Regime: []string{"dry-winter", "wet-winter"}[i%2], Clay: rng.IntN(4) == 0}
		rate := base / math.Pow(1+3*rng.Float64(), 0.6)
		if t.Clay {
			rate *= 3
		}
		rate *= math.Exp(0.2 * rng.NormFloat64())
		truth = append(truth, rate)
		t.PerDay, t.Own = rate*math.Exp(0.05*rng.NormFloat64()), true // as learned in a season
		ts = append(ts, t)
	}
	return truth, ts
}

// Each place has its own weather. What the sentinels' readings say of the first pot to come dry, through the learned ratios, is on nine
// days of ten within a day of the truth in growth. At rest, when the time left is weeks, it is within a day or a seventh of it on eight of
// ten only: a small error of a ratio grows with the time.
func TestAFewSentinelsBoundTheFirstPotToDry(t *testing.T) {
	for _, c := range []struct {
		name              string
		n                 int
		rate, limit, part float64
		want              float64
	}{{"growth", 5, 0.12, 0.55, 0, 0.9}, {"rest", 5, 0.06, 0.2, 1.0 / 7, 0.8}} {
		t.Run(c.name, func(t *testing.T) { bound(t, c.n, c.rate, c.limit, c.part, c.want) })
	}
}

func bound(t *testing.T, n int, base, limit, part, want float64) {
	rng := rand.New(rand.NewPCG(3, 9))
	truth, ts := hundred(rng, base)
	chosen := sentinel.Choose(ts, n)
	if len(chosen) != n {
		t.Fatal(len(chosen))
	}
	most := slices.MaxFunc(chosen, func(a, b sentinel.Sentinel) int { return len(a.Speaks) - len(b.Speaks) })
	speaker, ratio := map[string]string{}, map[string]float64{}
	for _, s := range chosen {
		speaker[s.Pot], ratio[s.Pot] = s.Pot, 1
		for _, r := range s.Speaks {
			speaker[r.Pot], ratio[r.Pot] = s.Pot, r.Ratio
		}
	}
	water := make([]float64, len(ts))
	for i := range water {
		water[i] = 1
	}
	at := map[string]int{}
	for i := range ts {
		at[ts[i].Pot] = i
	}
	within, alone, days := 0, 0, 0
	sun := map[string]float64{}
	for range 365 {
		for _, place := range []string{"table", "wall", "frame"} {
			sun[place] = 0.75*sun[place] + 0.25*rng.NormFloat64()
		}
		drive := func(i int) float64 { return math.Exp(sun[ts[i].Place]) }
		left := func(w, rate float64) float64 { return math.Log(w/limit) / rate } // in days of usual air
		real, said := math.Inf(1), math.Inf(1)
		for i := range ts {
			real = math.Min(real, left(water[i], truth[i]))
			s := at[speaker[ts[i].Pot]]
			// The sentinel's level and rate are read from its probe; the pot's follow by the ratio from the watering they share.
			fallen := math.Log(1/water[s]) / ratio[ts[i].Pot]
			said = math.Min(said, (math.Log(1/limit)-fallen)/(truth[s]/ratio[ts[i].Pot]))
		}
		typical := at[most.Pot] // what a keeper would think who took one pot's word for all
		unasked := left(water[typical], truth[typical])
		days++
		if math.Abs(real-said) <= math.Max(1, part*real) {
			within++
		}
		if math.Abs(real-unasked) <= math.Max(1, part*real) {
			alone++
		}
		dry := false
		for i := range ts {
			water[i] *= math.Exp(-truth[i] * drive(i))
			dry = dry || water[i] < limit
		}
		if dry { // the keeper waters all
			for i := range water {
				water[i] = 1
			}
		}
	}
	if share := float64(within) / float64(days); share < want {
		t.Errorf("within a day on %.0f %% of days only", 100*share)
	} else {
		t.Logf("within a day on %.0f %% of %d days; by one pot's word on %d", 100*share, days, alone)
	}
	if alone*2 > within {
		t.Errorf("one pot's word would have done: within a day on %d of %d days", alone, days)
	}
}

func TestSentinelsSpreadOverPlacesRegimesAndMaterials(t *testing.T) {
	_, ts := hundred(rand.New(rand.NewPCG(1, 1)), 0.1)
	seen := map[string]bool{}
	for _, s := range sentinel.Choose(ts, 6) {
		for i := range ts {
			if ts[i].Pot == s.Pot {
				seen[ts[i].Place], seen[ts[i].Regime], seen[fmt.Sprint("clay ", ts[i].Clay)] = true, true, true
			}
		}
	}
	if len(seen) != 3+2+2 {
		t.Errorf("the sentinels stand for %v only", seen)
	}
}

func TestAPotThatIsProbedAlreadyIsTakenWhereItServes(t *testing.T) {
	ts := []sentinel.Trait{{Pot: "A", Place: "t", PerDay: 0.3}, {Pot: "B", Place: "w", PerDay: 0.1}, {Pot: "C", Place: "w", PerDay: 0.11, Probed: true}, {Pot: "D", Place: "w", PerDay: 0.1}}
	got := sentinel.Choose(ts, 2)
	if len(got) != 2 || got[1].Pot != "C" || len(got[1].Speaks) != 2 {
		t.Fatalf("%+v", got)
	}
	if s := got[1].String(); !strings.Contains(s, "C is probed; it can speak for others: B and D dry like it") {
		t.Error(s)
	}
	if s := sentinel.Choose(nil, 4); s != nil {
		t.Error(s)
	}
}
