// Package table carries a piece of garden.toml, with its place in the whole file, to the room that owns its meaning, and
// decodes it strictly there: unknown keys and bare numbers in unit fields are refused with block, line and advice.
package table

import (
	"errors"
	"fmt"
	"strings"
)

// A Raw is one block of garden.toml that config does not understand itself.
type Raw struct {
	Name string // the driver, rule or way out it is for
	Path string // how the file names it, for errors: "probe D7-t, w1"
	Line int    // first line of the block's keys in the whole file, counting from 1
	Body string // the block's own keys as TOML, line breaks as in the file

	ask *[]Key // not nil: the owner is only asked for its keys
}

// Zero reports whether there is no table.
func (r Raw) Zero() bool { return r.Name == "" }

// An Error is one finding in a garden file: where it is and what to write instead.
type Error struct {
	File string // name of the file; empty: garden.toml
	Path string // block as the file names it: "probe D7-t, w1"; empty: the file as a whole
	Line int    // in the whole file, counting from 1; 0: no one line
	Key  string // the key it is about; empty: the block
	Say  string // what is wrong and what to write instead
	Err  error  // what lies under it, if anything
}

// Error prints "garden.toml line 12, probe D7-t, w1, resolution: ...".
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.File == "" {
		b.WriteString("garden.toml")
	}
	if e.Line > 0 {
		fmt.Fprintf(&b, " line %d", e.Line)
	}
	for _, part := range []string{e.Path, e.Key} {
		if part != "" {
			b.WriteString(", " + part)
		}
	}
	return b.String() + ": " + e.Say
}

func (e *Error) Unwrap() error { return e.Err }

// Errorf is a finding about a key of the block that its owner makes after decoding ("depth must be under 30 cm"). The line is
// the key's own when it is written in the block, else the block's first. A %w is kept for errors.Is.
func (r Raw) Errorf(key, format string, args ...any) error {
	err := fmt.Errorf(format, args...)
	return &Error{Path: r.Path, Line: r.lineOf(key), Key: key, Say: err.Error(), Err: errors.Unwrap(err)}
}

func (r Raw) lineOf(key string) int {
	if key == "" {
		return r.Line
	}
	found := 0
	walk([]byte(r.Body), func(e entry) {
		if found == 0 && strings.Join(e.key, ".") == key {
			found = r.Line + e.line - 1
		}
	})
	if found == 0 {
		return r.Line
	}
	return found
}

// List flattens an error made of joined ones into its findings, in order; errors that are no Error are wrapped in one.
func List(err error) []*Error {
	if err == nil {
		return nil
	}
	if e, ok := err.(*Error); ok {
		return []*Error{e}
	}
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var all []*Error
		for _, one := range many.Unwrap() {
			all = append(all, List(one)...)
		}
		return all
	}
	var e *Error
	if errors.As(err, &e) {
		return []*Error{e}
	}
	return []*Error{{Say: err.Error(), Err: err}}
}
