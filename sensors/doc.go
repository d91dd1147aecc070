// Package sensors holds the nouns every room speaks: what a probe said (Reading), that it failed (Fault), one visit to every
// probe (Round), what the keeper did or saw (Note), and the stream of all of them in order (Entries).
package sensors
