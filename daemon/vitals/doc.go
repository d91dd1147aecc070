// Package vitals is how a running daemon fares: one Report, taken at an instant, and the forms it is given in: a table, lines of
// JSON, a short answer for a supervisor, OpenMetrics, and a support bundle without secrets.
package vitals
