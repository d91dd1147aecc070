// Package drivers is the shelf of sources: one file a source. A driver reads one chip, kernel file, serial line or topic, turns
// it into raw counts in a named step, and refuses every known lie at the door as a Fault. It never starts a goroutine of its
// own for sensing and never keeps a bus: buses are lent.
package drivers
