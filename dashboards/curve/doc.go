// Package curve turns readings into drawings: readings in, SVG path data out. It is pure: it asks no clock and reads no store. Lines
// are thinned to the lowest and highest of each column of the picture, never by a method that may drop a night's low.
package curve
