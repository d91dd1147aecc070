package indices

import "time"

// Limits of the temperature slope. One common probe shifts by about 0.002 m³/m³ per °C in soilless mixes (a calibration study of
// two probes): some 6 ‰ of drained-full per °C.
const (
	slopeSwing   Milli = 3000 // a day must swing at least this much
	slopeMaxPerK       = 15.0 // ‰ per °C
	slopeDays          = 3
	slopeKeep          = 0.97 // weight of yesterday's knowledge
	slopeRidge         = 2.0  // °C²: how strongly little data pulls to no slope
	slopeRef     Milli = 10000
)

// TempSlope learns how much a probe's reading moves with temperature alone and takes it out. It fits, on each dry calm day (no
// event, no gap, pot above freezing), moisture on temperature and time of day together, so that the day's drying is not taken
// for drift, and pools the days with slow forgetting. The zero value is ready.
type TempSlope struct {
	day           int
	open, spoilt  bool
	t0, last      time.Time
	n             int64
	lo, hi        Milli
	st, sT, sw    int64
	stt, stT, stw int64
	sTT, sTw      int64
	firstTemp     Milli
	firstWet      int64
	varT, covTw   float64
	days          int
}

// Take feeds one usable reading; day numbers the civil day it belongs to.
func (s *TempSlope) Take(now time.Time, day int, pot Milli, wet int64) {
	if !s.open || day != s.day {
		s.closeDay()
		*s = TempSlope{day: day, open: true, t0: now, last: now, lo: pot, hi: pot, firstTemp: pot, firstWet: wet, varT: s.varT, covTw: s.covTw, days: s.days}
	}
	if now.Sub(s.last) > gateLost {
		s.spoilt = true
	}
	s.last = now
	s.lo, s.hi = min(s.lo, pot), max(s.hi, pot)
	t, temp, w := int64(now.Sub(s.t0)/time.Minute), pot-s.firstTemp, wet-s.firstWet
	s.n++
	s.st, s.sT, s.sw = s.st+t, s.sT+temp, s.sw+w
	s.stt, s.stT, s.stw = s.stt+t*t, s.stT+t*temp, s.stw+t*w
	s.sTT, s.sTw = s.sTT+temp*temp, s.sTw+temp*w
}

// Spoil drops the present day: water came, the pot froze, wind blew or the probe was handled.
func (s *TempSlope) Spoil() { s.spoilt = true }

func (s *TempSlope) closeDay() {
	if !s.open || s.spoilt || s.hi-s.lo < slopeSwing || s.last.Sub(s.t0) < 20*time.Hour || s.n < 12 {
		return
	}
	n := float64(s.n)
	cov := func(xy, x, y int64) float64 { return float64(xy)/n - float64(x)/n*(float64(y)/n) }
	tt, tT, tw := cov(s.stt, s.st, s.st), cov(s.stT, s.st, s.sT), cov(s.stw, s.st, s.sw)
	TT, Tw := cov(s.sTT, s.sT, s.sT), cov(s.sTw, s.sT, s.sw)
	if tt <= 0 {
		return
	}
	// What is left of both when the straight line through the day is taken out; m°C to °C.
	s.varT = float64(s.varT*slopeKeep) + (TT-tT*tT/tt)/1e6
	s.covTw = float64(s.covTw*slopeKeep) + (Tw-tT*tw/tt)/1e3
	s.days++
}

// PerKelvin gives the slope in ‰ per °C; 0 and false until three such days are in.
func (s *TempSlope) PerKelvin() (float64, bool) {
	if s.days < slopeDays {
		return 0, false
	}
	return max(-slopeMaxPerK, min(slopeMaxPerK, s.covTw/(s.varT+slopeRidge))), true
}

// Correct gives the reading as it would be at 10 °C; unchanged while the slope is not known.
func (s *TempSlope) Correct(wet int64, pot Milli) int64 {
	b, ok := s.PerKelvin()
	if !ok {
		return wet
	}
	d := b * float64(pot-slopeRef) / 1000
	if d < 0 {
		return wet + int64(0.5-d)
	}
	return wet - int64(d+0.5)
}
