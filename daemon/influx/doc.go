// Package influx forwards rounds to an InfluxDB server (1.8 or 2) through its write call, from a mark in the journal: the journal is
// the queue, so that an outage of weeks costs nothing and a restart loses nothing. Writes block; the library's own background writer
// drops what it cannot deliver in a few minutes and is not used.
package influx
