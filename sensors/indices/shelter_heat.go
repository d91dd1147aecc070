package indices

import "time"

// Root heat: hours over these, and the days' rules of growers (roots stressed over 20 °C, long over 25 °C deadly: single growers'
// words, so guesses).
const (
	heatWatch     Milli = 20000 // as a daily mean on three days running
	heatAct       Milli = 25000 // for four hours on two days
	heatOnce      Milli = 28000 // once
	heatActFor          = 4 * time.Hour
	heatWatchDays       = 3
)

// HeatLevel is how far root heat has gone.
type HeatLevel uint8

// The levels.
const (
	HeatFine HeatLevel = iota
	HeatWatch
	HeatAct
)

// HeatHours sums, per civil day and for good, the hours a pot's core spent over 20, 25 and 28 °C, on the straight line between
// readings. Shift moves the limits in m°C: -2000 for high-mountain kinds that die early of heat, +2000 for the southern wet-winter
// kinds. The zero value is ready.
type HeatHours struct {
	Shift Milli

	day    int
	any    bool
	last   time.Time
	prev   Milli
	today  HeatDay
	total  [3]int64 // seconds
	warm   int      // days running with a mean over the watch limit
	hotDay int      // the last day with four hours over the act limit
	hadHot bool
}

// HeatDay is one civil day of a pot: seconds over the three limits, seconds seen, and the integral for the mean.
type HeatDay struct {
	Day  int
	Over [3]int64
	Seen int64
	sum  int64
	Peak Milli
}

// Mean gives the day's mean in m°C over what was seen.
func (d HeatDay) Mean() (Milli, bool) {
	if d.Seen == 0 {
		return 0, false
	}
	return d.sum / d.Seen, true
}

// Take feeds the pot's core in m°C; day numbers the civil day.
func (h *HeatHours) Take(now time.Time, day int, pot Milli) {
	if h.any && day != h.day {
		h.closeDay()
	}
	if !h.any || day != h.day {
		h.today = HeatDay{Day: day, Peak: pot}
	}
	dt := now.Sub(h.last)
	if h.any && dt > 0 && dt <= gateLost {
		s := Segment{From: h.last, To: now, V0: h.prev, V1: pot}
		for i, limit := range h.limits() {
			over := s.Seconds() - s.TimeAtOrBelow(limit)
			h.today.Over[i] += over
			h.total[i] += over
		}
		h.today.Seen += s.Seconds()
		h.today.sum += s.Sum()
	}
	h.today.Peak = max(h.today.Peak, pot)
	h.any, h.day, h.last, h.prev = true, day, now, pot
}

func (h *HeatHours) limits() [3]Milli {
	return [3]Milli{heatWatch + h.Shift, heatAct + h.Shift, heatOnce + h.Shift}
}

func (h *HeatHours) closeDay() {
	if m, ok := h.today.Mean(); ok && m > heatWatch+h.Shift {
		h.warm++
	} else {
		h.warm = 0
	}
	if h.isHot(h.today) {
		h.hotDay, h.hadHot = h.today.Day, true
	}
}

func (h *HeatHours) isHot(d HeatDay) bool { return time.Duration(d.Over[1])*time.Second >= heatActFor }

// Today gives the present day so far.
func (h *HeatHours) Today() HeatDay { return h.today }

// Hours gives the hours ever spent over 20, 25 and 28 °C (with the shift).
func (h *HeatHours) Hours() (over20, over25, over28 float64) {
	return float64(h.total[0]) / 3600, float64(h.total[1]) / 3600, float64(h.total[2]) / 3600
}

// Level says act when the core has passed 28 °C today, or 25 °C for four hours today and on one of the three days before; watch
// when the daily mean was over 20 °C on the three days before.
func (h *HeatHours) Level() HeatLevel {
	switch {
	case h.any && h.today.Peak >= heatOnce+h.Shift:
		return HeatAct
	case h.any && h.isHot(h.today) && h.hadHot && h.day-h.hotDay <= 3:
		return HeatAct
	case h.warm >= heatWatchDays:
		return HeatWatch
	}
	return HeatFine
}
