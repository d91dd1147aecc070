package alerts

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// FuzzMachineLines: whatever texts and figures a standing holds, each of its machine lines is one JSON object on one line whose texts read
// back as they were and whose figures are finite, with at most two decimals.
func FuzzMachineLines(f *testing.F) {
	f.Add("D7", "Water D7.\nNow", 12.34, -0.04, int64(300))
	f.Add("a\"b\\", "</script>\u2028", math.NaN(), math.Inf(1), int64(math.MaxInt64))
	f.Add("\xff", "", 1e300, -1e-300, int64(math.MinInt64))
	f.Add("水", "−6 °C", 0.05, 1e12, int64(-1))
	f.Fuzz(func(t *testing.T, id, text string, low, high float64, n int64) {
		at := time.Unix(n%(1<<36), 0)
		i := Interval{Low: low, High: high, OK: true}
		st := &Standing{At: at, Pots: []PotStanding{{Pot: &garden.Pot{ID: id}, Place: id, Verdict: text, DaysLeft: i, ColdCredit: i, Forcing: i, FeedReleased: i, Wetness: units.PerMilleFull(n), WetnessAt: at, Cold: Enough}},
			Places: []PlaceStanding{{Place: &garden.Place{ID: id}, Air: units.MilliCelsius(n), AirAt: at, Expected: i, Offset: i}}}
		c := Change{Key: id, At: at, Kind: text, Subject: id, Place: id, Pots: []string{id, text}, Text: text, To: id, Until: at, Rank: Week, State: Said}
		a := Alert{Kind: text, Subject: id, Place: id, Pots: []string{id}, Rank: Week, Key: id, Since: at, Text: text}
		for name, line := range map[string][]byte{"pot": PotState(st, 0), "place": PlaceState(st, 0), "message": MessageLine(c), "sent": SentMessage(c, text), "alert": AlertState(a), "over": AlertOver(c)} {
			var m map[string]any
			dec := json.NewDecoder(strings.NewReader(string(line)))
			dec.UseNumber()
			if err := dec.Decode(&m); err != nil || dec.More() || strings.ContainsAny(string(line), "\r\n") || !utf8.Valid(line) {
				t.Fatalf("%s: %q, %v", name, line, err)
			}
			for k, v := range m {
				figures(t, name+"."+k, v)
			}
			told(t, name, m, id, text)
		}
	})
}

func figures(t *testing.T, key string, v any) {
	switch v := v.(type) {
	case json.Number:
		_, frac, _ := strings.Cut(v.String(), ".")
		if strings.ContainsAny(v.String(), "eEnN") || strings.HasPrefix(v.String(), "-0") && strings.Trim(v.String(), "-0.") == "" {
			t.Errorf("%s is %s", key, v)
		}
		if f, err := v.Float64(); err != nil || len(frac) > 2 && math.Abs(f) < 1e12 {
			t.Errorf("%s is %s, %v", key, v, err)
		}
	case []any:
		for _, e := range v {
			figures(t, key, e)
		}
	}
}

// told compares the texts; bytes that are no UTF-8 come back as the replacement character.
func told(t *testing.T, name string, m map[string]any, id, text string) {
	for key, want := range map[string]string{"pot": id, "key": id, "subject": id, "text": text, "kind": text, "verdict": text} {
		got, there := m[key].(string)
		if there && got != validated(want) {
			t.Errorf("%s.%s: %q came back as %q", name, key, want, got)
		}
	}
}

// validated replaces each wrong byte by itself, as encoding/json does.
func validated(s string) string {
	var b strings.Builder
	for _, r := range s {
		b.WriteRune(r)
	}
	return b.String()
}
