package drivers

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"lathwatch/sensors/units"
)

const (
	maxPayload = 16 << 10
	maxNesting = 16
)

// A payload is one message's content: plain text, and as JSON when it is an object or a list.
type payload struct {
	plain string
	tree  any
	err   error // why tree could not be read
}

func readPayload(b []byte) payload {
	p := payload{plain: strings.TrimSpace(string(b))}
	if len(b) > maxPayload {
		return payload{err: garbled("a payload over 16 KiB")}
	}
	if !utf8.Valid(b) {
		return payload{err: garbled("not UTF-8")}
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.UseNumber()
	p.tree, p.err = readJSON(dec, 0)
	if p.err == nil {
		if _, err := dec.Token(); !errors.Is(err, io.EOF) {
			p.err = garbled("more than one JSON value")
		}
	}
	if p.err != nil {
		var t *trouble
		if !errors.As(p.err, &t) {
			p.err = garbled("not JSON")
		}
	}
	return p
}

// readJSON reads one value into maps and slices. Decoding into a struct would match keys in any case, take the last of
// duplicates and turn null into nought; here duplicates are refused and everything else is looked up exactly.
func readJSON(dec *json.Decoder, depth int) (any, error) {
	if depth > maxNesting {
		return nil, garbled("JSON nested over %d deep", maxNesting)
	}
	tok, err := dec.Token()
	if err != nil {
		return nil, err
	}
	switch tok {
	case json.Delim('{'):
		object := map[string]any{}
		for dec.More() {
			key, err := dec.Token()
			if err != nil {
				return nil, err
			}
			if _, twice := object[key.(string)]; twice {
				return nil, garbled("key %q given twice", clip(key.(string)))
			}
			if object[key.(string)], err = readJSON(dec, depth+1); err != nil {
				return nil, err
			}
		}
		_, err = dec.Token()
		return object, err
	case json.Delim('['):
		list := []any{}
		for dec.More() {
			v, err := readJSON(dec, depth+1)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		_, err = dec.Token()
		return list, err
	}
	return tok, nil
}

// at follows a dotted path; a number is a place in a list, counting from 0.
func (p payload) at(path string) (any, error) {
	if p.err != nil {
		return nil, p.err
	}
	v := p.tree
	for part := range strings.SplitSeq(path, ".") {
		switch node := v.(type) {
		case map[string]any:
			inner, ok := node[part]
			if !ok {
				return nil, garbled("no field %s", path)
			}
			v = inner
		case []any:
			i, err := strconv.ParseUint(part, 10, 16)
			if err != nil || int(i) >= len(node) {
				return nil, garbled("no field %s", path)
			}
			v = node[i]
		default:
			return nil, garbled("no field %s", path)
		}
	}
	return v, nil
}

// value gives the raw counts the wish is after.
func (w mqttWish) value(p payload) (int64, error) {
	if w.Value == "" {
		return w.plainValue(p)
	}
	v, err := p.at(w.Value)
	if err != nil {
		return 0, err
	}
	switch v := v.(type) {
	case json.Number:
		return w.number(v.String())
	case string:
		if w.Text {
			return w.number(strings.TrimSpace(v))
		}
		return 0, garbled("field %s is text, not a number", w.Value)
	case bool:
		return w.truthValue(v)
	}
	return 0, garbled("field %s is not a number", w.Value)
}

func (w mqttWish) plainValue(p payload) (int64, error) {
	if p.plain == "" {
		return 0, cmpErr(p.err, garbled("not a plain number"))
	}
	if p.plain == "true" || p.plain == "false" {
		return w.truthValue(p.plain == "true")
	}
	text := p.plain
	if inner, ok := p.tree.(string); ok && w.Text {
		text = inner
	}
	if strings.ContainsAny(text, "eE") {
		return 0, garbled("%q is not a plain number", clip(text))
	}
	return w.number(text)
}

func cmpErr(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

func (w mqttWish) truthValue(v bool) (int64, error) {
	of := w.isFalse
	if v {
		of = w.isTrue
	}
	if of == nil {
		return 0, garbled("%t is not a number", v)
	}
	return *of, nil
}

func (w mqttWish) number(s string) (int64, error) { return countsOf(s, w.step) }

// countsOf reads a decimal, which JSON may write with an exponent, as ten-thousandths, the counts of a step made by finer.
func countsOf(s string, step units.Step) (int64, error) {
	bad := garbled("%q is not a plain number", clip(s))
	if i := strings.IndexAny(s, "eE"); i >= 0 {
		exp, err := strconv.Atoi(s[i+1:])
		if err != nil || exp < -30 || exp > 15 || len(s) > 40 {
			return 0, bad
		}
		if _, err := units.ParseDecimal(s[:i], decimals); err != nil {
			return 0, bad
		}
		r, ok := new(big.Rat).SetString(s)
		if !ok {
			return 0, bad
		}
		s = r.FloatString(decimals)
	}
	n, err := units.ParseDecimal(s, decimals)
	if err != nil {
		return 0, bad
	}
	if step.Num != 0 && (n > math.MaxInt64/2/abs64(int64(step.Num)) || n < -math.MaxInt64/2/abs64(int64(step.Num))) {
		return 0, garbled("%q is far too large", clip(s))
	}
	return n, nil
}

func abs64(n int64) int64 { return max(n, -n) }

// stamp reads the payload's own time.
func (w mqttWish) stamp(p payload) (time.Time, error) {
	v, err := p.at(w.Time)
	if err != nil {
		return time.Time{}, err
	}
	switch v := v.(type) {
	case string:
		if t, err := time.Parse(time.RFC3339, v); err == nil {
			return t.UTC(), nil
		}
	case json.Number:
		ms, err := units.ParseDecimal(v.String(), 3)
		if err != nil { // more than twelve digits: it is milliseconds already
			ms, err = units.ParseDecimal(v.String(), 0)
		}
		if err == nil {
			return time.UnixMilli(ms).UTC(), nil
		}
	}
	return time.Time{}, garbled("field %s is not a time", w.Time)
}

// same gives the value that is equal in repeats of one message.
func (w mqttWish) same(p payload) string {
	if w.Same == "" {
		return ""
	}
	v, err := p.at(w.Same)
	if err != nil {
		return ""
	}
	return fmt.Sprint(v)
}

// clip keeps a foreign text short enough for a message.
func clip(s string) string {
	if len(s) > 24 {
		s = strings.ToValidUTF8(s[:24], "") + "..."
	}
	return s
}
