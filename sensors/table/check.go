package table

import (
	"bytes"
	"encoding"
	"fmt"
	"reflect"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

type checker struct {
	raw        Raw
	found      []error
	broken     []string     // headers already refused: their keys are not refused again
	bad        map[int]bool // lines of keys with a finding
	refused    bool         // the entry lies under a refused header
	unreadable bool         // the body is not TOML
}

// check judges every key of a body against the type it is for.
func (c *checker) check(body []byte, root reflect.Type) {
	from, was := 0, 0 // first line of the entry before, and the findings until then
	c.bad = map[int]bool{}
	end := func(until int) {
		if from > 0 && (len(c.found) > was || c.refused) {
			for l := from; l < until; l++ {
				c.bad[l] = true
			}
		}
		from, was, c.refused = until, len(c.found), false
	}
	table, seen := 0, map[string]int{} // the same key may stand once under each header
	line, err := walk(body, func(e entry) {
		end(e.line)
		key := fmt.Sprint(table, e.key)
		switch {
		case e.value == nil:
			table++
		case seen[key] > 0:
			c.say(e.line, strings.Join(e.key, "."), fmt.Sprintf("this key is written twice, first at line %d: take one away", c.raw.Line+seen[key]-1), nil)
			return
		default:
			seen[key] = e.line
		}
		c.entry(root, e)
	})
	end(bytes.Count(body, []byte("\n")) + 2)
	if err != nil {
		c.unreadable = true
		c.say(line, "", "this line cannot be read as TOML: "+err.Error(), nil)
	}
}

func (c *checker) say(line int, key, say string, err error) {
	c.found = append(c.found, &Error{Path: c.raw.Path, Line: c.raw.Line + line - 1, Key: key, Say: say, Err: err})
}

// entry finds the field a line is for and checks its value.
func (c *checker) entry(root reflect.Type, e entry) {
	whole := strings.Join(e.key, ".")
	for _, b := range c.broken {
		if strings.HasPrefix(whole, b+".") {
			c.refused = true
			return
		}
	}
	t := root
	for i, k := range e.key {
		t = into(t)
		if t.Kind() == reflect.Map {
			t = t.Elem()
			continue
		}
		if t.Kind() == reflect.Interface {
			return
		}
		if t.Kind() != reflect.Struct || readsText(t) {
			c.say(e.line, strings.Join(e.key[:i], "."), "this is one value, not a table of its own", nil)
			c.broken = append(c.broken, strings.Join(e.key[:i], "."))
			return
		}
		names, types := fields(t)
		ft, ok := types[k]
		if !ok {
			c.say(e.line, strings.Join(e.key[:i+1], "."), "this key is not known here: "+Advice(k, names), nil)
			if e.value == nil || i < len(e.key)-1 {
				c.broken = append(c.broken, strings.Join(e.key[:i+1], "."))
			}
			return
		}
		t = ft
	}
	if e.value != nil {
		c.value(t, e.value, e, whole)
	}
}

// into steps through pointers and lists of tables to what one table of them is.
func into(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice && !readsText(t) {
		t = t.Elem()
	}
	return t
}

var textReader = reflect.TypeFor[encoding.TextUnmarshaler]()

func readsText(t reflect.Type) bool { return reflect.PointerTo(t).Implements(textReader) }

// fields lists a struct's keys in order and their types, embedded structs' included.
func fields(t reflect.Type) (names []string, types map[string]reflect.Type) {
	types = map[string]reflect.Type{}
	for _, f := range reflect.VisibleFields(t) {
		name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
		if !f.IsExported() || name == "-" || f.Anonymous && name == "" {
			continue
		}
		if name == "" {
			name = strings.ToLower(f.Name)
		}
		names = append(names, name)
		types[name] = f.Type
	}
	return names, types
}

// value checks one value against the type it is for.
func (c *checker) value(t reflect.Type, n *unstable.Node, e entry, key string) {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case t.Kind() == reflect.Interface:
		return
	case t == reflect.TypeFor[time.Time]():
		c.kind(n, e, key, "write a date with time and offset, without quotes: 2026-12-01T08:00:00Z", unstable.DateTime)
	case t == reflect.TypeFor[toml.LocalDate]():
		c.kind(n, e, key, "write a date, without quotes: 2026-12-01", unstable.LocalDate)
	case readsText(t):
		c.text(t, n, e, key)
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
		if c.kind(n, e, key, "write a list: [ ... ]", unstable.Array) {
			for it := n.Children(); it.Next(); {
				c.value(t.Elem(), it.Node(), e, key)
			}
		}
	case t.Kind() == reflect.Struct || t.Kind() == reflect.Map:
		c.table(t, n, e, key)
	default:
		c.plain(t, n, e, key)
	}
}

func (c *checker) table(t reflect.Type, n *unstable.Node, e entry, key string) {
	if !c.kind(n, e, key, "write a table: { ... }", unstable.InlineTable) {
		return
	}
	for it := n.Children(); it.Next(); {
		var path []string
		for k := it.Node().Key(); k.Next(); {
			path = append(path, string(k.Node().Data))
		}
		sub := e
		sub.key, sub.value = path, it.Node().Value()
		before := len(c.found)
		c.entry(t, sub)
		for _, err := range c.found[before:] {
			err.(*Error).Key = key + "." + err.(*Error).Key
		}
	}
}

// text lets the field's own reader judge: a bare number goes to it as written, so that its advice names the right units.
func (c *checker) text(t reflect.Type, n *unstable.Node, e entry, key string) {
	said := string(n.Data)
	if n.Kind != unstable.String && n.Kind != unstable.Integer && n.Kind != unstable.Float {
		c.kind(n, e, key, "write it as text in quotes", unstable.String)
		return
	}
	err := reflect.New(t).Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(said))
	switch {
	case err != nil:
		c.say(e.line, key, err.Error(), err)
	case n.Kind != unstable.String:
		c.say(e.line, key, "write it as text in quotes: \""+said+"\"", nil)
	}
}

func (c *checker) plain(t reflect.Type, n *unstable.Node, e entry, key string) {
	switch t.Kind() {
	case reflect.String:
		c.kind(n, e, key, "write it as text in quotes", unstable.String)
	case reflect.Bool:
		c.kind(n, e, key, "write true or false, without quotes", unstable.Bool)
	case reflect.Float32, reflect.Float64:
		if c.kind(n, e, key, "write a number, without quotes", unstable.Float, unstable.Integer) && strings.ContainsAny(string(n.Data), "nN") {
			c.say(e.line, key, "write a number, without quotes, not "+string(n.Data), nil)
		}
	default:
		c.kind(n, e, key, "write a whole number, without quotes", unstable.Integer)
	}
}

var kindNames = map[unstable.Kind]string{unstable.String: "text", unstable.Bool: "true or false", unstable.Integer: "a whole number", unstable.Float: "a number with a point",
	unstable.Array: "a list", unstable.InlineTable: "a table", unstable.LocalDate: "a date", unstable.LocalTime: "a time", unstable.LocalDateTime: "a date and time", unstable.DateTime: "a date and time"}

func (c *checker) kind(n *unstable.Node, e entry, key, want string, kinds ...unstable.Kind) bool {
	for _, k := range kinds {
		if n.Kind == k {
			return true
		}
	}
	c.say(e.line, key, "this is "+kindNames[n.Kind]+": "+want, nil)
	return false
}
