// Package ledger keeps the plants' books from the keeper's notes and the seasons on record: shoots, flowers, dates, losses with
// their cause, who came of whom; what differed for plants that did not double; what was fed. It only counts and compares: it
// never names a cause.
package ledger
