// Package garden holds what stands where: places, plants, pots, probes, the water regimes as tables, the ledger of moves and
// the marks a moisture probe is read through. A Garden is what garden.toml says exists; notes say what happened to it.
package garden
