// Package config reads garden.toml, strictly: it turns the text into a garden.Garden or into every finding at once, each with
// its block, its line and what to write instead. The tables of drivers, rules and ways out are cut out raw, with their lines,
// and judged by their owners. Reference is the manual of keys.
package config
