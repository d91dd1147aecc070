package indices

import (
	"time"

	"lathwatch/sensors/garden"
)

// Bounds of the cold account: the growers' rules of thumb behind it differ by a factor of two, so every figure is a guess and
// a setting; a plant's own record overrules it.
type ColdBounds struct {
	Full, None     int64   // m°C: a day of mean Full or colder is one credit, falling linearly to none at None (5 and 8 °C)
	Enough, Plenty float64 // credit days (60 and 90)
	StartBelow     int64   // m°C: the account starts when the 7-day mean is under this (10 °C)
}

// DefaultCold are the bounds a garden begins with.
var DefaultCold = ColdBounds{Full: 5000, None: 8000, Enough: 60, Plenty: 90, StartBelow: 10000}

// creditUnit is one credit day in whole numbers: sums agree on every processor.
const creditUnit = 1_000_000

// Credit is the credit of a day of mean m°C, in millionths.
func (b ColdBounds) Credit(mean int64) int64 {
	switch {
	case mean <= b.Full:
		return creditUnit
	case mean >= b.None:
		return 0
	}
	return (b.None - mean) * creditUnit / (b.None - b.Full)
}

// A ColdAccount counts credit days of one pot's rest. Frozen days count in full. Time not observed may have been worth
// anything from nothing to a full credit, so the account is an interval; nothing is carried forward.
type ColdAccount struct {
	Bounds    ColdBounds
	Start     time.Time // zero: not begun
	low, high int64     // millionths, closed days
	week      [7]int64  // means of the last closed days with a mean
	weekN     int
}

// Begin starts the account at t (a leaf-down note) unless it already runs.
func (a *ColdAccount) Begin(t time.Time) {
	if a.Start.IsZero() {
		a.Start = t
	}
}

// Reset closes the season's account.
func (a *ColdAccount) Reset() { *a = ColdAccount{Bounds: a.Bounds} }

// Close adds a finished civil day. season is true from 1 October to the end of rest (shifted in the south): only then may
// the account start by itself.
func (a *ColdAccount) Close(d Day, start time.Time, season bool) {
	mean, ok := d.Mean()
	if ok {
		a.week[a.weekN%7] = mean
		a.weekN++
		if season && a.Start.IsZero() && a.weekMean() < a.Bounds.StartBelow {
			a.Start = start
		}
	}
	if a.Start.IsZero() {
		return
	}
	low, high := a.day(d)
	a.low += low
	a.high += high
}

func (a *ColdAccount) weekMean() int64 {
	n := min(a.weekN, 7)
	sum := int64(0)
	for _, m := range a.week[:n] {
		sum += m
	}
	return roundDiv(sum, int64(n))
}

// day gives the least and most a (possibly unfinished) day is worth.
func (a *ColdAccount) day(d Day) (low, high int64) {
	if d.Length == 0 {
		return 0, 0
	}
	if mean, ok := d.Mean(); ok {
		low = a.Bounds.Credit(mean) * d.Covered / d.Length
	}
	missed := min(d.Missed, d.Length-d.Covered)
	return low, low + creditUnit*missed/d.Length
}

// Credit is the account in credit days with today's part, as an interval.
func (a *ColdAccount) Credit(today Day) (low, high float64) {
	if a.Start.IsZero() {
		return 0, 0
	}
	l, h := a.day(today)
	return float64(a.low+l) / creditUnit, float64(a.high+h) / creditUnit
}

// SeasonMonths reports whether the cold account may start by itself on a civil day: 1 October to 30 April, shifted by 182
// days in the south.
func SeasonMonths(cal garden.Calendar, d garden.Date) bool {
	_, m, _ := cal.Northern(d).Civil()
	return m >= time.October || m <= time.April
}
