package review

// A Score counts how evening warnings and nights went together.
type Score struct {
	Nights, Frosts       int // nights watched, and those under 0 °C
	Foreseen, Unforeseen int // of the frosts, by what was expected at 21:00
	FalseAlarms, Quiet   int // nights without frost: expected all the same, or not
	Error                float64
	Bias                 float64 // expected less what came, °C
	Mattered             int     // frosts with opened shoots at the place
	Told                 int     // of these, those with a message
}

// Frosts scores one place, or all when place is "".
func (w *Winter) Frosts(place string) Score {
	var s Score
	var sum, sq float64
	for i := range w.Nights {
		n := &w.Nights[i]
		if place != "" && n.Place != place || !n.Whole {
			continue
		}
		if n.Min < 0 && n.Opened > 0 {
			s.Mattered++
			if n.Warned {
				s.Told++
			}
		}
		if !n.OK {
			continue
		}
		s.Nights++
		e := float64(n.Expected-n.Min) / 1000
		sum, sq = sum+e, sq+e*e
		s.count(n)
	}
	if s.Nights > 0 {
		s.Bias, s.Error = sum/float64(s.Nights), root(sq/float64(s.Nights))
	}
	return s
}

func (s *Score) count(n *Night) {
	expected := n.Expected < 0
	switch {
	case n.Min < 0 && expected:
		s.Frosts++
		s.Foreseen++
	case n.Min < 0:
		s.Frosts++
		s.Unforeseen++
	case expected:
		s.FalseAlarms++
	default:
		s.Quiet++
	}
}
