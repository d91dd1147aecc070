// Package poll walks live rounds: at each appointed minute it asks every bus, one goroutine a bus, waits a bounded time and
// hands over one Round of what answered and what did not, stamped with what the clock was worth then.
package poll
