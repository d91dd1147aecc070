package alerts

import (
	"time"

	"lathwatch/sensors"
)

// gap notices the return of a garden that nobody read for a while. Loggers that kept their own store fill such a stretch later with
// rounds of their few readings: nobody walked those, so they do not shorten it.
func (f *Fold) gap(r *sensors.Round) {
	if f.begun && !f.walked(r) {
		return
	}
	from := f.last
	if !f.unwalked.IsZero() && r.At.Sub(f.unwalkedAt) > gapLimit/2 {
		from = f.unwalked
	}
	if f.begun && r.At.Sub(from) > gapLimit {
		f.st.GapSince, f.st.GapUntil, f.st.GapKept = from, r.At, f.kept(from)
		for i := range f.pots {
			f.gapInPot(r.At, i)
		}
	}
	f.begun, f.last, f.unwalked = true, r.At, time.Time{}
}

// walked reports whether somebody asked the garden's probes for this round. A probe that was asked and did not answer has a fault; where
// more probes are quiet without one than answer as usual, the round is what a few of them kept for themselves.
func (f *Fold) walked(r *sensors.Round) bool {
	if len(r.Faults) > 0 || 2*len(r.Readings) >= len(f.probes) {
		return true
	}
	quiet, heard, last := 0, 0, time.Time{}
	for i := range f.probes {
		p := &f.st.Probes[i]
		switch at, _, ok := f.probes[i].trace.Last(); {
		case !ok || p.Fault != 0 || p.Spacing == 0 || !p.LastAt.Equal(at):
		case !f.probes[i].trace.Silent(r.At):
			heard++
		default:
			quiet++
			if at.After(last) {
				last = at
			}
		}
	}
	if quiet <= heard {
		return true
	}
	if f.unwalked.IsZero() {
		f.unwalked, f.unwalkedAt = last, r.At
	}
	return false
}

// kept names the probes that have readings of their own from a stretch nobody walked.
func (f *Fold) kept(from time.Time) (names []string) {
	for i := range f.st.Probes {
		if p := &f.st.Probes[i]; p.LastAt.Sub(from) > gapLimit/2 {
			names = append(names, string(p.Probe.ID))
		}
	}
	return names
}

func (f *Fold) gapInPot(now time.Time, i int) {
	for l := range f.pots[i].layers {
		f.pots[i].layers[l].gate.Gap(now)
	}
	f.pots[i].rough.Gap(now)
}
