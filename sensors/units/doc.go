// Package units holds the whole-number quantities a probe can measure. Each is an integer type in a named unit that prints
// and parses with that unit; a bare number, a decimal comma, NaN and Inf do not parse. Real numbers begin where conclusions do.
package units
