// Package journal keeps the past on one SQLite file: rounds, notes, gardens, changes (the outbox), marks and day summaries.
//
// A round and the changes it caused are one transaction. Newest rounds lie in a tail, one row each; a UTC day that is over is
// sealed into one compressed block per probe. Entries reads all of it back as the loop wants it, and a start is a replay of that.
//
// There is exactly one connection. Every method takes its turn on it (a one-slot channel, so that waiting ends with the
// context), does one bounded piece of work and gives the turn back; nothing is read beside an open transaction and no rows stay
// open between turns. Open gives a journal that is usable at once, Close ends it; Run only does the housekeeping and is not
// needed by commands and tests.
package journal
