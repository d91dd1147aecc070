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
}

// walk hands every entry of a body to see, in order, and returns the line and the syntax error that ended it.
func walk(body []byte, see func(entry)) (line int, err error) {
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
			see(entry{key: key, header: len(key), line: lineAt(first), list: e.Kind == unstable.ArrayTable})
		case unstable.KeyValue:
			full := append(append([]string(nil), under...), key...)
			see(entry{key: full, header: len(under), line: lineAt(first), value: e.Value()})
		}
	}
	if err = p.Error(); err == nil {
		return 0, nil
	}
	var pe *unstable.ParserError
	if errors.As(err, &pe) && len(body) > 0 {
		offset := cap(body) - cap(pe.Highlight)
		if offset >= 0 && offset <= len(body) {
			line = 1 + strings.Count(string(body[:offset]), "\n")
		}
		return line, errors.New(pe.Message)
	}
	return line, err
}

// A Line is where a key or a header stands in a text.
type Line struct {
	Key    []string // whole path, header included
	Header bool     // [a.b] or [[a.b]]
	List   bool     // [[a.b]]
	Line   int      // counting from 1
	Text   string   // the value when it is text in quotes, else empty
}

// Lines finds every key and header of a text, in order. A line that is no TOML ends the list and is told of in the error,
// an *Error.
func Lines(text string) ([]Line, error) {
	var all []Line
	line, err := walk([]byte(text), func(e entry) {
		l := Line{Key: e.key, Header: e.value == nil, List: e.list, Line: e.line}
		if e.value != nil && e.value.Kind == unstable.String {
			l.Text = string(e.value.Data)
		}
		all = append(all, l)
	})
	if err != nil {
		return all, &Error{Line: line, Say: "this line cannot be read as TOML: " + err.Error(), Err: err}
	}
	return all, nil
}
