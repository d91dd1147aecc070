package sentinel_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lathwatch/dashboards/sentinel"
)

// hundred invents a hundred pots at three places in two materials: each dries as its kind does, but for a fifth.
func hundred(rng *rand.Rand) (truth []float64, ts []sentinel.Trait) {
	for i := range 100 {
		t := sentinel.Trait{Pot: fmt.Sprintf("P%d", i), Place: []string{"table", "wall", "frame"}[i%3], Regime: []string{"dry-winter", "wet-winter"}[i%2], Clay: rng.IntN(4) == 0}
		rate := 0.12 / math.Pow(1+3*rng.Float64(), 0.6)
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

// Each place has its own weather. What the sentinels' readings say of the first pot to come dry, through the learned ratios, is within
// a day of the truth on nine days of ten.
func TestFiveSentinelsBoundTheFirstPotToDry(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	truth, ts := hundred(rng)
	chosen := sentinel.Choose(ts, 5)
	if len(chosen) != 5 {
		t.Fatal(len(chosen))
	}
	speaker, ratio := map[string]string{}, map[string]float64{}
	for _, s := range chosen {
		speaker[s.Pot], ratio[s.Pot] = s.Pot, 1
		for _, r := range s.Speaks {
			speaker[r.Pot], ratio[r.Pot] = s.Pot, r.Ratio
		}
	}
	const limit = 0.55
	water := make([]float64, len(ts))
	for i := range water {
		water[i] = 1
	}
	at := map[string]int{}
	for i := range ts {
		at[ts[i].Pot] = i
	}
	within, days := 0, 0
	sun := map[string]float64{}
	for day := range 365 {
		for _, place := range []string{"table", "wall", "frame"} {
			sun[place] = 0.75*sun[place] + 0.25*rng.NormFloat64()
		}
		drive := func(i int) float64 { return math.Exp(sun[ts[i].Place]) }
		left := func(w, rate, drive float64) float64 { return math.Log(w/limit) / (rate * drive) }
		real, said := math.Inf(1), math.Inf(1)
		for i := range ts {
			real = math.Min(real, left(water[i], truth[i], drive(i)))
			s := at[speaker[ts[i].Pot]]
			// The sentinel's own rate today is read from its probe; the pot's level follows by the ratio from the watering they share.
			fallen := math.Log(1/water[s]) / ratio[ts[i].Pot]
			said = math.Min(said, (math.Log(1/limit)-fallen)/(truth[s]*drive(s)/ratio[ts[i].Pot]))
		}
		days++
		if math.Abs(real-said) <= 1 {
			within++
		}
		dry := false
		for i := range ts {
			water[i] *= math.Exp(-truth[i] * drive(i))
			dry = dry || water[i] < limit
		}
		if dry || day%7 == 6 { // the keeper waters all
			for i := range water {
				water[i] = 1
			}
		}
	}
	if share := float64(within) / float64(days); share < 0.9 {
		t.Errorf("within a day on %.0f %% of days only", 100*share)
	} else {
		t.Logf("within a day on %.0f %% of %d days", 100*share, days)
	}
}

func TestSentinelsSpreadOverPlacesAndMaterials(t *testing.T) {
	_, ts := hundred(rand.New(rand.NewPCG(1, 1)))
	places := map[string]bool{}
	for _, s := range sentinel.Choose(ts, 6) {
		for i := range ts {
			if ts[i].Pot == s.Pot {
				places[ts[i].Place+ts[i].Regime] = true
			}
		}
	}
	if len(places) != 6 {
		t.Errorf("six sentinels stand for %d of six kinds: %v", len(places), places)
	}
}

func TestAPotThatIsProbedAlreadyIsTakenWhereItServes(t *testing.T) {
	ts := []sentinel.Trait{{Pot: "A", Place: "t", PerDay: 0.3}, {Pot: "B", Place: "w", PerDay: 0.1}, {Pot: "C", Place: "w", PerDay: 0.11, Probed: true}, {Pot: "D", Place: "w", PerDay: 0.1}}
	got := sentinel.Choose(ts, 2)
	if len(got) != 2 || got[1].Pot != "C" || len(got[1].Speaks) != 2 {
		t.Fatalf("%+v", got)
	}
	if s := got[1].String(); !strings.Contains(s, "C is probed; it can speak for others: B, D dry like it") {
		t.Error(s)
	}
	if s := sentinel.Choose(nil, 4); s != nil {
		t.Error(s)
	}
}
