// Package logbook is how the daemon's log looks: text or JSON, fit for a service journal, the same words from the same source at
// most so often a minute, known secrets blanked, and the newest lines kept in memory for a support bundle.
package logbook
