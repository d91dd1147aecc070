// Package table carries a piece of garden.toml, with its place in the whole file, to the room that owns its meaning, and
// decodes it strictly there: unknown keys and bare numbers in unit fields are refused with block, line and advice.
package table

// A Raw is one block of garden.toml that config does not understand itself.
type Raw struct {
	Name string // the driver, rule or way out it is for
	Path string // how the file names it, for errors: "probe D7-t, w1"
	Line int    // first line of the block's keys in the whole file, counting from 1
	Body string // the block's own keys as TOML, line breaks as in the file
}

// Zero reports whether there is no table.
func (r Raw) Zero() bool { return r.Name == "" }
