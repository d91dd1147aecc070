// Package ical writes the garden's coming days as an iCalendar feed (RFC 5545): dress windows, expected water days, moves, the weekly
// look, batteries. Days are the garden's civil days, whole and without a time.
package ical
