package indices

import (
	"errors"
	"math"
	"slices"
)

// A SeasonRecord is one season's daily means in °C and the day, as an index into them, on which the thing was seen.
type SeasonRecord struct {
	Means []float64
	Seen  int
}

// A ForcingFit is the one fitted parameter and how well it does, always beside the mean date. Errors are root mean squares in
// days; Bias is predicted less seen.
type ForcingFit struct {
	Need           float64
	RMSE, Bias     float64
	LeftOut        float64 // each season predicted from the others
	MeanDay        float64 // of the days seen
	MeanDayRMSE    float64
	MeanDayLeftOut float64
	Seasons        int
}

// BeatsMeanDate reports whether the fit predicts a season it has not seen better than the mean date of the others does. Where it
// does not, show the mean date.
func (f ForcingFit) BeatsMeanDate() bool { return f.LeftOut < f.MeanDayLeftOut }

// ErrFewSeasons is returned when there is no season to leave out.
var ErrFewSeasons = errors.New("fitting a forcing sum: two seasons at least are needed")

// FitForcing finds the sum of rate, counted from day from, that misses the days seen by the fewest days (root mean square). With
// a grower's handful of seasons nothing more than this one parameter can be fitted; base and start are taken from elsewhere.
func FitForcing(seasons []SeasonRecord, rate Rate, from int) (ForcingFit, error) {
	n := len(seasons)
	if n < 2 {
		return ForcingFit{}, ErrFewSeasons
	}
	sums := make([][]float64, n)
	low, high := math.Inf(1), math.Inf(-1)
	for i, s := range seasons {
		sums[i] = runningSums(s.Means, rate, from)
		if at := s.Seen - from; at >= 0 && at < len(sums[i]) {
			low, high = min(low, sums[i][at]), max(high, sums[i][at])
		}
	}
	if low > high {
		return ForcingFit{}, errors.New("fitting a forcing sum: no season's day lies within its means")
	}
	needs := candidates(sums, low, high)
	misses := make([][]float64, len(needs))
	for c, need := range needs {
		misses[c] = make([]float64, n)
		for i, s := range seasons {
			misses[c][i] = float64(reached(sums[i], need) + from - s.Seen)
		}
	}
	f := ForcingFit{Seasons: n}
	best := bestCandidate(misses, -1)
	f.Need, f.RMSE, f.Bias = needs[best], rootMeanSquare(misses[best]), mean(misses[best])
	left := make([]float64, n)
	for i := range n {
		left[i] = misses[bestCandidate(misses, i)][i]
	}
	f.LeftOut = rootMeanSquare(left)
	f.MeanDay, f.MeanDayRMSE, f.MeanDayLeftOut = meanDate(seasons)
	return f, nil
}

// meanDate is the null model: the mean of the days seen, its error, and its error for seasons left out.
func meanDate(seasons []SeasonRecord) (day, rmse, leftOut float64) {
	n := float64(len(seasons))
	for _, s := range seasons {
		day += float64(s.Seen) / n
	}
	miss := make([]float64, len(seasons))
	for i, s := range seasons {
		miss[i] = day - float64(s.Seen)
	}
	rmse = rootMeanSquare(miss)
	return day, rmse, rmse * n / (n - 1) // leaving one out moves the mean by a fixed share of the miss
}

func runningSums(means []float64, rate Rate, from int) []float64 {
	var out []float64
	sum := 0.0
	for _, t := range means[min(max(from, 0), len(means)):] {
		sum += rate(t)
		out = append(out, sum)
	}
	return out
}

// reached is the first day of the running sums at or above need, one past the end when none is.
func reached(sums []float64, need float64) int {
	i, _ := slices.BinarySearch(sums, need)
	return i
}

// candidates are the middles between all sums seen at the end of a day within the span in which the best need must lie. Between
// two neighbours no prediction changes, so these are every different answer there is.
func candidates(sums [][]float64, low, high float64) []float64 {
	var edges []float64
	for _, s := range sums {
		for _, v := range s {
			if low <= v && v <= high {
				edges = append(edges, v)
			}
		}
	}
	slices.Sort(edges)
	edges = slices.Compact(edges)
	out := []float64{edges[0]}
	for i := range edges[1:] {
		out = append(out, (edges[i]+edges[i+1])/2)
	}
	return out
}

// bestCandidate has the least sum of squares without season leave; of several alike, the middle one.
func bestCandidate(misses [][]float64, leave int) int {
	least := math.Inf(1)
	var alike []int
	for c, row := range misses {
		sum := 0.0
		for i, m := range row {
			if i != leave {
				sum += m * m
			}
		}
		if sum < least {
			least, alike = sum, alike[:0]
		}
		if sum == least {
			alike = append(alike, c)
		}
	}
	return alike[len(alike)/2]
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

func rootMeanSquare(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(v)))
}
