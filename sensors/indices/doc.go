// Package indices is the shelf of figures worked out from readings: degree-days, the cold account, dryness, frost nights.
// Everything here is pure: it is told the time and never asks for it. Sums that must agree on every processor are whole numbers.
package indices
