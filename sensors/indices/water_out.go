package indices

import "time"

// Limits of a probe out of its pot: the reading falls to the air's in one sample, which no pot does, and the thermometer then
// follows the air without the pot's lag of hours.
const (
	outWithin       = 75 * time.Minute
	outFloor        = 50 // ‰
	outFor          = time.Hour
	outNear   Milli = 1000
)

// ProbeOut notices a probe pulled from its pot. The zero value is ready.
type ProbeOut struct {
	last      gateMark
	before    int64
	dropped   time.Time
	backSince time.Time
	near, far time.Duration // how long pot and air agreed, and did not, since the drop
	seen      time.Time
	out       time.Time
}

// Take feeds one round: moisture in ‰, pot and place air temperature in m°C, each with whether it was read. frozen keeps ice from
// being taken for a pulled probe.
func (p *ProbeOut) Take(now time.Time, wet LayerWet, pot Milli, potOK bool, air Milli, airOK, frozen bool) {
	if wet.OK {
		p.takeWet(now, wet.Wet, frozen || potOK && pot <= gateHold)
	}
	if p.dropped.IsZero() {
		return
	}
	if potOK && airOK && !p.seen.IsZero() && now.Sub(p.seen) <= gateLost && now.After(p.dropped) {
		if d := pot - air; d >= -outNear && d <= outNear {
			p.near += now.Sub(p.seen)
		} else {
			p.far += now.Sub(p.seen)
		}
	}
	p.seen = now
	if p.out.IsZero() && now.Sub(p.dropped) >= outFor && p.near >= outFor && p.near >= 4*p.far {
		p.out = now
	}
}

func (p *ProbeOut) takeWet(now time.Time, wet int64, icy bool) {
	if p.dropped.IsZero() {
		if p.last.ok() && !icy && wet <= outFloor && wet*4 <= p.last.wet && p.last.wet-wet >= 100 && now.Sub(p.last.at) <= outWithin {
			p.dropped, p.before, p.near, p.far, p.seen = now, p.last.wet, 0, 0, now
		}
		p.last = gateMark{wet, now}
		return
	}
	keep(&p.backSince, now, wet*3 >= p.before)
	if lasted(p.backSince, now, 30*time.Minute) {
		p.Handled()
		p.last = gateMark{wet, now}
	}
}

// Dropped says since when the reading is not to be judged because it fell to nothing from one sample to the next.
func (p *ProbeOut) Dropped() (since time.Time, ok bool) { return p.dropped, !p.dropped.IsZero() }

// Out says since when the probe hangs in the air: dropped for an hour, and its thermometer within 1 °C of the air.
func (p *ProbeOut) Out() (since time.Time, ok bool) { return p.dropped, !p.out.IsZero() }

// Handled forgets the drop: the keeper noted the repotting or put the probe back.
func (p *ProbeOut) Handled() { *p = ProbeOut{} }
