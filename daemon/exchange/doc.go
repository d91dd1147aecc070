// Package exchange writes what the journal holds for other programs and reads it back: readings.csv, SenML (RFC 8428) as a pack a
// line, InfluxDB line protocol, and, for reading only, wide CSV with a column a probe. A bad row is named by its line and the rest is
// kept.
package exchange
