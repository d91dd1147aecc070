package model

import _ "embed"

// Demo is the garden file of the demo: an invented garden of twelve pots in two places, all probes simulated.
//
//go:embed demo.toml
var Demo string
