package indices

import "time"

// Limits of the snow sign: under snow a surface or pot is pinned near zero with hardly a daily swing while the air swings well
// below. A pot freezing through is pinned too, but only until so much cold has passed as its water can take (some 380 °C·h in a
// 7 L pot at 42 %); a dead sensor does not move at all.
const (
	snowBand    Milli = 500
	snowSwing   Milli = 1000
	snowAir     Milli = -3000
	snowSurface       = 24 * time.Hour
	snowPlateau       = 400 * 3600 * 1000 // m°C·s
	snowSamples       = 2                 // different values at least
)

// SnowCover notices snow lying on pots. Surface says that the thermometer lies on the surface, which has no plateau of its own.
type SnowCover struct {
	Surface bool

	since  time.Time
	last   time.Time
	lo, hi Milli
	airLow Milli
	cold   int64
	values int
	prev   Milli
	air    Milli
}

// Take feeds the pinned thermometer and the air in m°C. bright means a light probe sees daylight there, which speaks against snow.
func (s *SnowCover) Take(now time.Time, pinned, air Milli, bright bool) {
	dt := now.Sub(s.last)
	out := pinned < -snowBand || pinned > snowBand || bright || dt > gateLost
	if s.since.IsZero() || out || max(s.hi, pinned)-min(s.lo, pinned) >= snowSwing {
		*s = SnowCover{Surface: s.Surface, last: now, prev: pinned, air: air, lo: pinned, hi: pinned, airLow: air, values: 1}
		if pinned >= -snowBand && pinned <= snowBand && !bright {
			s.since = now
		}
		return
	}
	if pinned != s.prev {
		s.values++
	}
	s.lo, s.hi, s.airLow = min(s.lo, pinned), max(s.hi, pinned), min(s.airLow, air)
	s.cold += max(0, -(air+s.air)/2) * int64(dt/time.Second)
	s.last, s.prev, s.air = now, pinned, air
}

// Covered says that snow is keeping these pots, since when.
func (s *SnowCover) Covered() (since time.Time, ok bool) {
	if s.since.IsZero() || s.airLow > snowAir || s.values < snowSamples || s.last.Sub(s.since) < snowSurface {
		return time.Time{}, false
	}
	return s.since, s.Surface || s.cold >= snowPlateau
}
