package config

import (
	"fmt"
	"strings"

	"lathwatch/sensors/table"
)

// A block is one header of garden.toml with the keys under it.
type block struct {
	kind   string // site, place, pot, probe, rule, push ...
	named  string // the second word of [rule.water], empty elsewhere
	header int    // line of the header
	raw    table.Raw
	inner  []table.Raw // tables named inside it: [probe.w1]
}

// shapes says how each kind's header is written.
var shapes = map[string]string{"site": "[site]", "place": "[[place]]", "plant": "[[plant]]", "pot": "[[pot]]", "probe": "[[probe]]", "normals": "[normals]", "feed": "[feed]", "sitter": "[sitter]",
	"rule": "[rule.<kind>]", "push": "[push.<way>]", "broker": "[broker]", "page": "[page]", "journal": "[journal]", "backup": "[backup]", "log": "[log]", "influx": "[influx]"}

var kinds = []string{"site", "place", "plant", "pot", "probe", "normals", "feed", "sitter", "rule", "push", "broker", "page", "journal", "backup", "log", "influx"}

// cut divides a text into its blocks. The error says where the text stops being TOML; blocks before that are still given.
func cut(text string, find func(error)) ([]*block, error) {
	lines, err := table.Lines(text)
	c := cutter{text: strings.SplitAfter(text, "\n"), find: find}
	for i, l := range lines {
		if l.Header {
			c.until = len(c.text)
			for _, next := range lines[i+1:] {
				if next.Header {
					c.until = next.Line - 1
					break
				}
			}
			c.header(l)
		} else if c.last == nil && !c.skip {
			find(&table.Error{Line: l.Line, Key: l.Key[0], Say: "this key stands before any block: write a header like [site] above it"})
		} else if c.last != nil && len(l.Key) == 2 && l.Key[1] == "id" && c.last.kind == l.Key[0] {
			c.last.raw.Path = strings.TrimSpace(c.last.kind + " " + l.Text)
		}
	}
	for _, b := range c.blocks {
		for i := range b.inner {
			b.inner[i].Path = b.raw.Path + ", " + b.inner[i].Name
		}
	}
	return c.blocks, err
}

type cutter struct {
	text   []string
	find   func(error)
	blocks []*block
	last   *block
	until  int // last line of the keys under the header at hand
	skip   bool
}

func (c *cutter) header(l table.Line) {
	kind, rest := l.Key[0], l.Key[1:]
	shape := shapes[kind]
	refuse := func(format string, args ...any) {
		c.last, c.skip = nil, true
		c.find(&table.Error{Line: l.Line, Path: strings.Join(l.Key, "."), Say: fmt.Sprintf(format, args...)})
	}
	switch {
	case shape == "":
		refuse("this block is not known: %s", table.Advice(kind, kinds))
	case kind == "rule" || kind == "push":
		if len(rest) == 0 || l.List && len(rest) == 1 {
			refuse("write the header like %s", shape)
			return
		}
		c.named(l, kind, rest)
	case len(rest) == 0:
		if l.List != strings.HasPrefix(shape, "[[") {
			refuse("write the header like %s", shape)
			return
		}
		c.start(&block{kind: kind, header: l.Line, raw: table.Raw{Name: kind, Path: kind, Line: l.Line + 1, Body: c.body(l.Line)}})
	case kind == "probe" && c.last != nil && c.last.kind == "probe":
		c.inside(l, rest)
	case kind == "probe":
		refuse("write it below its [[probe]] block")
	case c.last != nil && c.last.kind == kind:
		appendTable(&c.last.raw, l, rest, c.body(l.Line))
	default:
		refuse("this table is not known here: write the header like %s", shape)
	}
}

// named opens [rule.water-light] or goes on in it with [rule.water-light.more].
func (c *cutter) named(l table.Line, kind string, rest []string) {
	if len(rest) > 1 && c.last != nil && c.last.kind == kind && c.last.named == rest[0] {
		appendTable(&c.last.raw, l, rest[1:], c.body(l.Line))
		return
	}
	b := &block{kind: kind, named: rest[0], header: l.Line, raw: table.Raw{Name: rest[0], Path: kind + " " + rest[0], Line: l.Line + 1}}
	if len(rest) > 1 {
		appendTable(&b.raw, l, rest[1:], c.body(l.Line))
	} else {
		b.raw.Body = c.body(l.Line)
	}
	c.start(b)
}

// inside takes a table of a probe: the driver's own.
func (c *cutter) inside(l table.Line, rest []string) {
	b := c.last
	if rest[0] == "limits" || rest[0] == "offset" { // our own, though written as tables
		appendTable(&b.raw, l, rest, c.body(l.Line))
		return
	}
	if l.List && len(rest) == 1 {
		c.find(&table.Error{Line: l.Line, Path: b.raw.Path, Say: fmt.Sprintf("write the header like [probe.%s]", rest[0])})
	}
	if n := len(b.inner); len(rest) > 1 && n > 0 && b.inner[n-1].Name == rest[0] {
		appendTable(&b.inner[n-1], l, rest[1:], c.body(l.Line))
		return
	}
	raw := table.Raw{Name: rest[0], Line: l.Line + 1}
	if len(rest) > 1 {
		appendTable(&raw, l, rest[1:], c.body(l.Line))
	} else {
		raw.Body = c.body(l.Line)
	}
	b.inner = append(b.inner, raw)
}

func (c *cutter) start(b *block) {
	c.last, c.skip = b, false
	c.blocks = append(c.blocks, b)
}

// body is the text below a header's line until the next header.
func (c *cutter) body(header int) string {
	return strings.Join(c.text[header:max(header, c.until)], "")
}

// appendTable adds a table named inside a raw one, with its header made relative, at its own line.
func appendTable(raw *table.Raw, l table.Line, rest []string, body string) {
	if raw.Body == "" && raw.Line > l.Line {
		raw.Line = l.Line
	}
	if raw.Body != "" && !strings.HasSuffix(raw.Body, "\n") {
		raw.Body += "\n"
	}
	for raw.Line+strings.Count(raw.Body, "\n") < l.Line {
		raw.Body += "\n"
	}
	quoted := make([]string, len(rest))
	for i, k := range rest {
		quoted[i] = fmt.Sprintf("%q", k)
	}
	open, shut := "[", "]"
	if l.List {
		open, shut = "[[", "]]"
	}
	raw.Body += open + strings.Join(quoted, ".") + shut + "\n" + body
}
