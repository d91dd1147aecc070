package drivers

// A swing watches a moisture reading for going to and fro. Water comes at once and goes slowly: however often a pot is watered, its
// reading does not turn back by six points five times within sixteen samples. One that does is two probes answering in turn, or an
// input with nothing attached, and nothing it says is the pot's. The figures are guesses.
type swing struct {
	n      int64 // samples
	level  int64 // where the reading stands, counted from the first sample, in thousandths of drained-full
	far    int64 // the farthest it went since it last turned
	up     bool
	turned [swingTurns]int64 // samples at which it turned back, the newest first
	over   bool
}

const (
	swingTurns  = 5
	swingWithin = 16
	swingPoints = 60
)

// take is told how far the reading moved from one sample to the next.
func (w *swing) take(moved int64) {
	w.n++
	w.level += moved
	switch {
	case w.up && w.level > w.far, !w.up && w.level < w.far:
		w.far = w.level
	case abs64(w.level-w.far) >= swingPoints:
		copy(w.turned[1:], w.turned[:])
		w.turned[0], w.up, w.far = w.n, !w.up, w.level
	}
	switch last := w.turned[swingTurns-1]; {
	case last > 0 && w.n-last < swingWithin:
		w.over = true
	case w.n-w.turned[0] >= swingWithin:
		w.over = false
	}
}

// restless reports that the reading has gone to and fro, and not yet been quiet for as long.
func (w *swing) restless() bool { return w.over }
