package garden

import "time"

// shiftDays moves the southern calendar onto the northern one: hemispheres differ only by this.
const shiftDays = 182

// A Calendar cuts the site's time into civil days and seasons.
type Calendar struct {
	Zone  *time.Location
	South bool
}

// Date is a civil day, counted from 1 January 1970 as day 0, so that days are whole numbers that subtract.
type Date int32

// DateOf gives the civil day an instant falls in.
func (c Calendar) DateOf(t time.Time) Date {
	y, m, d := t.In(c.Zone).Date()
	return dateOf(y, m, d)
}

func dateOf(y int, m time.Month, d int) Date {
	return Date(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// Civil gives the year, month and day.
func (d Date) Civil() (int, time.Month, int) { return time.Unix(int64(d)*86400, 0).UTC().Date() }

func (d Date) String() string { return time.Unix(int64(d)*86400, 0).UTC().Format(time.DateOnly) }

// Start is the first instant whose local date is d: midnight where there is one, later where the clock skips it.
func (c Calendar) Start(d Date) time.Time {
	y, m, day := d.Civil()
	t := time.Date(y, m, day, 0, 0, 0, 0, c.Zone)
	if c.DateOf(t) < d { // midnight does not exist and time.Date went back an hour
		_, end := t.ZoneBounds()
		return end.UTC()
	}
	// Where midnight comes twice, or time.Date chose an instant after the first one, take the earliest instant of that date.
	if start, _ := t.ZoneBounds(); !start.IsZero() && t.Sub(start) < 3*time.Hour {
		if before := start.Add(-time.Second); c.DateOf(before) == d {
			_, off := before.Zone()
			u := time.Date(y, m, day, 0, 0, 0, 0, time.FixedZone("", off))
			if c.DateOf(u) == d && u.Before(t) {
				return u.UTC()
			}
		}
	}
	return t.UTC()
}

// Length is how long the civil day lasts: 23, 24 or 25 hours as a rule.
func (c Calendar) Length(d Date) time.Duration { return c.Start(d + 1).Sub(c.Start(d)) }

// Night is the date of the noon that a "tonight" begins with: noon to noon.
func (c Calendar) Night(t time.Time) Date {
	d := c.DateOf(t)
	if t.In(c.Zone).Hour() < 12 {
		return d - 1
	}
	return d
}

// Northern moves a southern date onto the northern calendar; northern dates stay.
func (c Calendar) Northern(d Date) Date {
	if c.South {
		return d - shiftDays
	}
	return d
}

// Season is named by the year in which the plants come up: it runs from 1 September (2 or 3 March in the south) of the year before.
func (c Calendar) Season(d Date) int {
	y, m, _ := c.Northern(d).Civil()
	if m >= time.September {
		return y + 1
	}
	return y
}

// SeasonStart is the first day of a season.
func (c Calendar) SeasonStart(season int) Date {
	d := dateOf(season-1, time.September, 1)
	if c.South {
		d += shiftDays
	}
	return d
}

// SeasonDay counts days from the season's first day, 0 onwards: the same day of the plants' year in both hemispheres.
func (c Calendar) SeasonDay(d Date) int { return int(d - c.SeasonStart(c.Season(d))) }
