// Package rules is the shelf of faults Lathwatch can name: one file a rule, its settings beside it with their defaults and where
// they come from. A number nobody has published is a setting, and the message says guess.
package rules
