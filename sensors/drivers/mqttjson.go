package drivers

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"
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
