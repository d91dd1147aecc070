// Package alerts turns what is known of every pot into words, or into silence: the folded Standing of the garden, what rules
// find in it, the one state machine that decides what is said and when (Judge), and the words of every message.
package alerts
