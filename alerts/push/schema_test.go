package push_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

const schemas = "../../testdata/schemas"

// schema checks the keywords our schemas use, as JSON Schema draft 2020-12 has them (Core and Validation, sections named
// beside each). A keyword it does not know fails the check, so that nothing passes unread.
type schema struct{ root map[string]any }

func loadSchema(t testing.TB, name string) schema {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(schemas, name))
	if err != nil {
		t.Fatal(err)
	}
	var root map[string]any
	if err := json.Unmarshal(b, &root); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if root["$schema"] != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("%s does not say its draft", name)
	}
	return schema{root}
}

func (s schema) check(doc string) error {
	dec := json.NewDecoder(strings.NewReader(doc))
	var v any
	if err := dec.Decode(&v); err != nil {
		return err
	}
	if dec.More() {
		return fmt.Errorf("more than one value")
	}
	return s.at("", s.root, v)
}

func (s schema) at(where string, rule, v any) error {
	if b, is := rule.(bool); is { // Core 4.3.2
		if !b {
			return fmt.Errorf("%s: nothing may be here", where)
		}
		return nil
	}
	r := rule.(map[string]any)
	for _, k := range keysOf(r) {
		if err := s.keyword(where, k, r, v); err != nil {
			return err
		}
	}
	return nil
}

func keysOf(m map[string]any) []string {
	ks := make([]string, 0, len(m))
	for k := range m {
		ks = append(ks, k)
	}
	slices.Sort(ks)
	return ks
}

func (s schema) keyword(where, k string, r map[string]any, v any) error {
	arg := r[k]
	bad := func(format string, a ...any) error { return fmt.Errorf("%s: %s", where, fmt.Sprintf(format, a...)) }
	switch k {
	case "$schema", "$id", "$defs", "title", "description":
		return nil
	case "$ref": // Core 8.2.3.1, within the document
		name, ok := strings.CutPrefix(arg.(string), "#/$defs/")
		if !ok {
			return bad("reference %v leads out of the schema", arg)
		}
		def, ok := s.root["$defs"].(map[string]any)[name]
		if !ok {
			return bad("reference %v leads nowhere", arg)
		}
		return s.at(where, def, v)
	case "type": // Validation 6.1.1
		if !isOf(arg, v) {
			return bad("%v is not of type %v", v, arg)
		}
	case "enum": // 6.1.2
		if !slices.ContainsFunc(arg.([]any), func(e any) bool { return reflect.DeepEqual(e, v) }) {
			return bad("%v is none of %v", v, arg)
		}
	case "const": // 6.1.3
		if !reflect.DeepEqual(arg, v) {
			return bad("%v is not %v", v, arg)
		}
	case "minimum", "maximum": // 6.2
		if n, is := v.(float64); is && (k == "minimum" && n < arg.(float64) || k == "maximum" && n > arg.(float64)) {
			return bad("%v breaks the %s %v", n, k, arg)
		}
	case "minLength": // 6.3.2
		if str, is := v.(string); is && utf8.RuneCountInString(str) < int(arg.(float64)) {
			return bad("%q is too short", str)
		}
	case "pattern": // 6.3.3
		if str, is := v.(string); is && !regexp.MustCompile(arg.(string)).MatchString(str) {
			return bad("%q does not match %v", str, arg)
		}
	default:
		return s.nested(where, k, r, v)
	}
	return nil
}

func (s schema) nested(where, k string, r map[string]any, v any) error {
	arg := r[k]
	list, isList := v.([]any)
	object, isObject := v.(map[string]any)
	switch k {
	case "anyOf", "oneOf": // Core 10.2.1
		fits, last := 0, error(nil)
		for _, sub := range arg.([]any) {
			if err := s.at(where, sub, v); err == nil {
				fits++
			} else {
				last = err
			}
		}
		if fits == 0 || k == "oneOf" && fits > 1 {
			return fmt.Errorf("%s: fits %d of %s, the last because: %v", where, fits, k, last)
		}
	case "minItems", "maxItems": // Validation 6.4
		if n := len(list); isList && (k == "minItems" && n < int(arg.(float64)) || k == "maxItems" && n > int(arg.(float64))) {
			return fmt.Errorf("%s: %d items break %s", where, n, k)
		}
	case "prefixItems": // Core 10.3.1.1
		for i, sub := range arg.([]any) {
			if isList && i < len(list) {
				if err := s.at(fmt.Sprintf("%s/%d", where, i), sub, list[i]); err != nil {
					return err
				}
			}
		}
	case "items": // Core 10.3.1.2: those after prefixItems
		prefix, _ := r["prefixItems"].([]any)
		for i := len(prefix); i < len(list); i++ {
			if err := s.at(fmt.Sprintf("%s/%d", where, i), arg, list[i]); err != nil {
				return err
			}
		}
	case "required": // Validation 6.5.3
		for _, name := range arg.([]any) {
			if _, there := object[name.(string)]; isObject && !there {
				return fmt.Errorf("%s: %v is missing", where, name)
			}
		}
	case "properties": // Core 10.3.2.1
		for name, sub := range arg.(map[string]any) {
			if field, there := object[name]; there {
				if err := s.at(where+"/"+name, sub, field); err != nil {
					return err
				}
			}
		}
	case "additionalProperties": // Core 10.3.2.3
		props, _ := r["properties"].(map[string]any)
		for _, name := range keysOf(object) {
			if _, known := props[name]; !known {
				if err := s.at(where+"/"+name, arg, object[name]); err != nil {
					return err
				}
			}
		}
	default:
		return fmt.Errorf("%s: this check does not know the keyword %q", where, k)
	}
	return nil
}

func isOf(kind, v any) bool {
	if kinds, is := kind.([]any); is {
		return slices.ContainsFunc(kinds, func(k any) bool { return isOf(k, v) })
	}
	switch v := v.(type) {
	case nil:
		return kind == "null"
	case bool:
		return kind == "boolean"
	case string:
		return kind == "string"
	case []any:
		return kind == "array"
	case map[string]any:
		return kind == "object"
	case float64:
		return kind == "number" || kind == "integer" && v == math.Trunc(v)
	}
	return false
}

// The check itself is held against cases written from the text of the draft (from memory of its meaning, no file copied).
func TestTheSchemaCheckKnowsItsKeywords(t *testing.T) {
	for _, c := range []struct {
		rule, good, bad string
	}{
		{`{"type":"integer"}`, `3.0`, `3.5`},
		{`{"type":["string","null"]}`, `null`, `false`},
		{`{"enum":["a",null,1]}`, `1`, `"b"`},
		{`{"const":{"a":[1]}}`, `{"a":[1]}`, `{"a":[2]}`},
		{`{"minimum":0,"maximum":1}`, `1`, `1.01`},
		{`{"minimum":0}`, `"text is not bound by minimum"`, `-1`},
		{`{"minLength":2}`, `"äö"`, `"ä"`},
		{`{"pattern":"b+"}`, `"abc"`, `"ac"`},
		{`{"anyOf":[{"type":"string"},{"minimum":5}]}`, `6`, `4`},
		{`{"oneOf":[{"type":"number"},{"minimum":5}]}`, `4`, `6`},
		{`{"prefixItems":[{"type":"string"}],"items":{"type":"number"}}`, `["a",1,2]`, `["a","b"]`},
		{`{"prefixItems":[{"type":"string"}],"items":false}`, `["a"]`, `["a",1]`},
		{`{"minItems":1,"maxItems":2}`, `[1,2]`, `[]`},
		{`{"required":["a"]}`, `{"a":null}`, `{"b":1}`},
		{`{"properties":{"a":{"type":"string"}},"additionalProperties":false}`, `{"a":"x"}`, `{"a":"x","b":1}`},
		{`{"$ref":"#/$defs/n","$defs":{"n":{"type":"number"}}}`, `1`, `"1"`},
	} {
		var root map[string]any
		if err := json.Unmarshal([]byte(c.rule), &root); err != nil {
			t.Fatal(err)
		}
		s := schema{root}
		if err := s.check(c.good); err != nil {
			t.Errorf("%s refuses %s: %v", c.rule, c.good, err)
		}
		if s.check(c.bad) == nil {
			t.Errorf("%s takes %s", c.rule, c.bad)
		}
	}
	if (schema{map[string]any{"contains": true}}).check(`1`) == nil {
		t.Error("an unknown keyword was passed over")
	}
}
