package indices

// average is the mean of the extremes less the base; with a horizontal cut-off the mean is held at the limit.
func (d DegreeDays) average(r DayRange) float64 {
	mean := (r.Max + r.Min) / 2
	if d.Cutoff == Horizontal {
		mean = min(mean, d.Upper)
	}
	return max(mean-d.Base, 0)
}

// averageClipped brings each extreme within the base and the limit before the mean is taken, as the 86/50 °F rule for maize does.
func (d DegreeDays) averageClipped(r DayRange) float64 {
	low, high := max(r.Min, d.Base), max(r.Max, d.Base)
	if d.Cutoff == Horizontal {
		low, high = min(low, d.Upper), min(high, d.Upper)
	}
	return (low+high)/2 - d.Base
}

// fourCase approximates the part of a day above the base with two straight rules where the day crosses it.
func fourCase(r DayRange, base float64) float64 {
	mean := (r.Max + r.Min) / 2
	switch {
	case r.Min >= base:
		return mean - base
	case mean >= base:
		return (r.Max-base)/2 - (base-r.Min)/4
	case r.Max > base:
		return (r.Max - base) / 4
	}
	return 0
}
