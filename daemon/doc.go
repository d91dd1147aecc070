// Package daemon walks rounds: Walk is the one loop over the past and the present (fold, judge, keep, show), Run the roster of
// everything that runs beside it.
package daemon
