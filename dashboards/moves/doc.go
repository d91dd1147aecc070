// Package moves weighs the two moves of the year: what a fortnight of nights may bring at each place, and how soaked a pot would go in.
package moves
