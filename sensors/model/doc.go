// Package model is the simulated garden behind the demo and the long tests: weather of an invented maritime edge of a continent,
// pots that freeze with their latent heat and dry by the air's demand, plants that keep their own account of cold and warmth,
// probes with noise, steps and faults, and a keeper who does as told. The same garden, seed and times give the same rounds.
//
// It is no measurement of anything. What it is checked against is named in its tests.
package model
