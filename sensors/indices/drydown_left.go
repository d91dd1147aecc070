package indices

import "math"

// Expected gives the days until the water left falls to limit in ‰ of drained-full, in air that passes from the last days' to the
// last weeks' mean. Zero when it is there already; false without a level.
func (d *DryDown) Expected(limit int64) (days float64, ok bool) {
	if !d.started || limit <= 0 {
		return 0, false
	}
	need := (d.s - math.Log(float64(limit))) / math.Exp(d.l) // in days of usual air
	if need <= 0 {
		return 0, true
	}
	usual := max(d.drive, 0.05)
	days = need / usual
	for range 6 {
		extra := (d.driveNow - d.drive) * dryWeather * (1 - math.Exp(-days/dryWeather))
		days = max(need-extra, need/4) / usual
	}
	return days, true
}

// ExpectedIn gives the same for days whose mean vapour pressure deficits in Pa are known or forecast; after the last of them the
// usual air goes on.
func (d *DryDown) ExpectedIn(limit int64, vpdPa []int64) (days float64, ok bool) {
	if !d.started || limit <= 0 {
		return 0, false
	}
	need := (d.s - math.Log(float64(limit))) / math.Exp(d.l)
	for _, v := range vpdPa {
		if need <= 0 {
			return days, true
		}
		drive := max(float64(v)/1000/d.usualVPD(), 1e-3)
		part := min(1, need/drive)
		days, need = days+part, need-drive
	}
	return days + max(need, 0)/max(d.drive, 0.05), true
}

// DaysLeft gives the interval that should hold the true number of days four times in five: the rate's spread, the level's, and
// what the air may do in the meantime. False without a level.
func (d *DryDown) DaysLeft(limit int64) (lo, hi float64, ok bool) {
	days, ok := d.Expected(limit)
	if !ok || days == 0 {
		return 0, 0, ok
	}
	left := d.s - math.Log(float64(limit))
	rel := d.pll - 2*d.psl/left + d.pss/(left*left) + d.airSpread(days) + dryHour*dryHour/(days*days)
	f := math.Exp(1.2816 * math.Sqrt(max(rel, 0.0025)))
	return days / f, days * f, true
}

// airSpread is the relative variance of the mean drive of the days to come: weather of neighbouring days goes together.
func (d *DryDown) airSpread(days float64) float64 {
	v := d.driveVar / max(d.drive*d.drive, 0.01)
	if !d.known {
		v = 0.25
	}
	n, e := days/dryWeather, math.Exp(-days/dryWeather)
	ahead := 2 * (n - 1 + e) / (n * n) // the mean of n correlated days against a free one
	return min(1, v*(ahead*(1-e)+dryWeather/dryMemory))
}
