package drivers

import (
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
	"time"

	"lathwatch/sensors/units"
)

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
