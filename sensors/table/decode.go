package table

import (
	"bytes"
	"errors"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Decode reads a block's own keys into the struct dst points to, which holds the defaults; an empty body leaves them. Keys
// without a field, values of the wrong kind and bare numbers in fields that read text (a duration, a temperature) are refused.
// All findings come together, each an *Error with its line in the whole file; with any of them dst is unchanged. Names of
// fields are their toml tags.
func Decode(r Raw, dst any) error {
	if r.ask != nil {
		*r.ask = append(*r.ask, describe(reflect.ValueOf(dst).Elem(), "")...)
		return errAsked
	}
	c := checker{raw: r}
	if c.check([]byte(r.Body), reflect.TypeOf(dst).Elem()); len(c.found) == 0 {
		c.fill([]byte(r.Body), dst)
	}
	return errors.Join(c.found...)
}

// DecodeGood is Decode for a checker that wants to find as much as it can: the keys without a finding are set even when
// others have one. What it returns with an error must not be used.
func DecodeGood(r Raw, dst any) error {
	c := checker{raw: r}
	if c.check([]byte(r.Body), reflect.TypeOf(dst).Elem()); !c.unreadable {
		lines := strings.SplitAfter(r.Body, "\n")
		for i := range lines {
			if c.bad[i+1] {
				lines[i] = "\n"
			}
		}
		c.fill([]byte(strings.Join(lines, "")), dst)
	}
	return errors.Join(c.found...)
}

// fill decodes a body that passed check.
func (c *checker) fill(body []byte, dst any) {
	// The library takes a bare integer for any field of an integer kind, even one that reads text: hence the walk above.
	work := reflect.New(reflect.TypeOf(dst).Elem())
	work.Elem().Set(reflect.ValueOf(dst).Elem())
	err := toml.NewDecoder(bytes.NewReader(body)).DisallowUnknownFields().Decode(work.Interface())
	if err == nil {
		reflect.ValueOf(dst).Elem().Set(work.Elem())
		return
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		row, _ := de.Position()
		c.say(row, strings.Join(de.Key(), "."), strings.TrimPrefix(de.Error(), "toml: "), err)
	} else {
		c.say(1, "", err.Error(), err)
	}
}
