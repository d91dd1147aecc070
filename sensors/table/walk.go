package table

import (
	"errors"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// An entry is one line of a block: a key with its value, or the header of a table inside it.
type entry struct {
	key    []string // whole path inside the block
	header int      // how many of key came from the header above
	line   int      // in the body, counting from 1
	value  *unstable.Node
	list   bool // header of an array of tables
	raw    func(*unstable.Node) string
}

// walk hands every entry of a body to see, in order, and returns the syntax error that ended it with its line.
func walk(body []byte, see func(entry)) (err error, line int) {
	var p unstable.Parser
	p.Reset(body)
	at := 0 // bytes whose lines are counted
	line = 1
	lineAt := func(offset int) int {
		for ; at < offset; at++ {
			if body[at] == '\n' {
				line++
			}
		}
		return line
	}
	raw := func(n *unstable.Node) string { return string(p.Raw(n.Raw)) }
	var under []string
	for p.NextExpression() {
		e := p.Expression()
		var key []string
		first := -1
		for it := e.Key(); it.Next(); {
			if first < 0 {
				first = int(it.Node().Raw.Offset)
			}
			key = append(key, string(it.Node().Data))
		}
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			under = key
			see(entry{key: key, header: len(key), line: lineAt(first), list: e.Kind == unstable.ArrayTable, raw: raw})
		case unstable.KeyValue:
			full := append(append([]string(nil), under...), key...)
			see(entry{key: full, header: len(under), line: lineAt(first), value: e.Value(), raw: raw})
		}
	}
	if err = p.Error(); err == nil {
		return nil, 0
	}
	var pe *unstable.ParserError
	if errors.As(err, &pe) && len(body) > 0 {
		offset := cap(body) - cap(pe.Highlight)
		if offset >= 0 && offset <= len(body) {
			line = 1 + strings.Count(string(body[:offset]), "\n")
		}
		return errors.New(pe.Message), line
	}
	return err, line
}
