package table

import (
	"encoding"
	"errors"
	"fmt"
	"reflect"
	"strings"
)

// A Key is one key a block may have, read off the struct its owner decodes into.
type Key struct {
	Name    string
	Default string // as it would be written; empty: there is none
	Help    string // what it means, from the field's help tag
}

var errAsked = errors.New("this block was only asked for its keys")

// Keys lists the keys of a block by handing its owner an empty one: owner is the function that calls Decode on it. What the
// struct holds before decoding are the defaults.
func Keys(owner func(Raw) error) []Key {
	var keys []Key
	owner(Raw{Name: "asked", Path: "asked", ask: &keys})
	return keys
}

// describe lists the keys of a struct, those of tables in it after a dot.
func describe(v reflect.Value, before string) []Key {
	var keys []Key
	for _, f := range reflect.VisibleFields(v.Type()) {
		name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
		if !f.IsExported() || name == "" || name == "-" {
			continue
		}
		name = before + name
		keys = append(keys, Key{Name: name, Default: written(v.FieldByIndex(f.Index)), Help: f.Tag.Get("help")})
		if t := into(f.Type); t.Kind() == reflect.Struct && !readsText(t) {
			keys = append(keys, describe(reflect.New(t).Elem(), name+".")...)
		}
	}
	return keys
}

// written is a value as the file would have it; empty for nothing.
func written(v reflect.Value) string {
	if v.IsZero() || v.Kind() == reflect.Pointer || v.Kind() == reflect.Struct || v.Kind() == reflect.Map {
		return ""
	}
	if m, ok := v.Interface().(encoding.TextMarshaler); ok {
		if text, err := m.MarshalText(); err == nil {
			return fmt.Sprintf("%q", text)
		}
	}
	if v.Kind() == reflect.String {
		return fmt.Sprintf("%q", v.String())
	}
	return fmt.Sprint(v.Interface())
}
