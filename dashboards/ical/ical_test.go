package ical_test

import (
	"bytes"
	"context"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lathwatch/alerts"
	"lathwatch/dashboards/ical"
	"lathwatch/dashboards/ical/icalread"
	"lathwatch/sensors/checks"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

func TestTextIsEscapedAsTheStandardSays(t *testing.T) {
	var in struct {
		Text string `json:"text"`
	}
	checks.Input(t, "pr-ical", &in)
	checks.Is(t, "pr-ical", ical.Escape(in.Text))
}

func parse(t interface {
	Helper()
	Fatalf(string, ...any)
}, text string) []icalread.Property {
	t.Helper()
	ps, err := icalread.Parse(text)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return ps
}

func TestAnyTextSurvivesFoldingAndEscaping(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := rapid.StringOf(rapid.SampledFrom([]rune("aé,;\\\n:\"°ß水🌱 \tz"))).Draw(rt, "text")
		ps := parse(rt, ical.Fold("SUMMARY:"+ical.Escape(s)))
		if len(ps) != 1 || icalread.Unescape(ps[0].Value) != s {
			rt.Fatalf("%q came back as %q", s, ps)
		}
	})
}

func standing() *alerts.Standing {
	g := &garden.Garden{Site: garden.Site{ID: "tansy", Name: "Lower Tansy Bank"}, Places: []garden.Place{{ID: "table", Roof: true}, {ID: "wall"}},
		Plants: []garden.Plant{{ID: "f", Name: "franchetii"}}, Pots: []garden.Pot{{ID: "D7", Plant: "f", Place: "table", Litres: 3000}},
		Probes: []garden.Probe{{ID: "pack", Measures: garden.Battery}}}
	cal := garden.Calendar{Zone: time.UTC}
	at := time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)
	return &alerts.Standing{At: at, Day: cal.DateOf(at), Season: 2027, Garden: g, Cal: cal, Pots: []alerts.PotStanding{{Pot: &g.Pots[0], Plant: &g.Plants[0], Place: "table",
		Regime: garden.RegimeNamed("dry-winter"), Break: [2]garden.Date{cal.DateOf(at) + 30, cal.DateOf(at) + 50}, BreakHow: "class guess", Wetness: units.PerMilleFull(300),
		DaysLeft: alerts.Interval{Low: 4, High: 6, OK: true}}}}
}

type memory map[string]int64

func (m memory) Mark(_ context.Context, name string) (int64, bool, error) {
	v, ok := m[name]
	return v, ok, nil
}

func (m memory) SetMark(_ context.Context, name string, v int64) error { m[name] = v; return nil }

func feed(t *testing.T, st *alerts.Standing, m memory) (string, []icalread.Property) {
	t.Helper()
	f, err := ical.Of(t.Context(), st, m)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String(), parse(t, b.String())
}

func TestEveryEventHasWhatTheStandardRequires(t *testing.T) {
	_, ps := feed(t, standing(), memory{})
	events, uids := 0, map[string]bool{}
	seen := map[string]string{}
	for _, p := range ps {
		switch {
		case p.Name == "BEGIN" && p.Value == "VEVENT":
			events, seen = events+1, map[string]string{}
		case p.Name == "END" && p.Value == "VEVENT":
			for _, need := range []string{"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "SEQUENCE"} {
				if seen[need] == "" {
					t.Errorf("event %s lacks %s", seen["UID"], need)
				}
			}
			if uids[seen["UID"]] || seen["DTEND"] <= seen["DTSTART"] {
				t.Errorf("%v", seen)
			}
			uids[seen["UID"]] = true
		default:
			seen[p.Name] = p.Value
			if (p.Name == "DTSTART" || p.Name == "DTEND") && p.Params != "VALUE=DATE" {
				t.Errorf("%s is %q", p.Name, p.Params)
			}
		}
	}
	for _, want := range []string{"dress-d7-2027@tansy.lathwatch", "water-d7@tansy.lathwatch", "move-in-2027@tansy.lathwatch", "move-out-2027@tansy.lathwatch", "weekly-look-2027@tansy.lathwatch",
		"batteries-2027@tansy.lathwatch"} {
		if !uids[want] {
			t.Errorf("no event %s in %v", want, uids)
		}
	}
	if events != 6 || ps[1].Name != "VERSION" || ps[1].Value != "2.0" || ps[2].Name != "PRODID" {
		t.Errorf("%d events, %v", events, ps[:3])
	}
}

func TestADayIsWholeAndItsEndIsNotIncluded(t *testing.T) {
	text, _ := feed(t, standing(), memory{})
	for _, want := range []string{"DTSTART;VALUE=DATE:20270317\r\nDTEND;VALUE=DATE:20270401\r\n", "DTSTART;VALUE=DATE:20270305\r\nDTEND;VALUE=DATE:20270308\r\n", "RRULE:FREQ=WEEKLY;UNTIL=20270831\r\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q in\n%s", want, text)
		}
	}
}

func TestTheSequenceGrowsOnlyWhenAnEventChanges(t *testing.T) {
	m, st := memory{}, standing()
	sequence := func() map[string]string {
		_, ps := feed(t, st, m)
		out, uid := map[string]string{}, ""
		for _, p := range ps {
			if p.Name == "UID" {
				uid = p.Value
			}
			if p.Name == "SEQUENCE" {
				out[uid] = p.Value
			}
		}
		return out
	}
	first := sequence()
	if d := cmp.Diff(first, sequence()); d != "" {
		t.Error("nothing changed:", d)
	}
	st.Pots[0].DaysLeft = alerts.Interval{Low: 2, High: 3, OK: true}
	then := sequence()
	if then["water-d7@tansy.lathwatch"] != "1" || then["dress-d7-2027@tansy.lathwatch"] != "0" {
		t.Error(then)
	}
}

type secrets map[string]bool

func (s secrets) Holds(_ context.Context, secret string) (bool, error) { return s[secret], nil }

func TestOnlyTheSecretAddressHoldsAndItCanBeRevoked(t *testing.T) {
	secret := strings.Repeat("k3-Y", 8)
	held := secrets{secret: true}
	h := ical.Handler(held, func(ctx context.Context) (ical.Feed, error) { return ical.Of(ctx, standing(), memory{}) })
	status := func(path string) int {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
		if w.Code == 200 && w.Header().Get("Content-Type") != "text/calendar; charset=utf-8" {
			t.Error(w.Header())
		}
		return w.Code
	}
	if c := status("/calendar/" + secret + ".ics"); c != 200 {
		t.Error(c)
	}
	for _, path := range []string{"/calendar/.ics", "/calendar/" + secret, "/calendar/" + secret[1:] + "A.ics", "/calendar/" + strings.Repeat("x", 32) + ".ics", "/calendar/"} {
		if c := status(path); c != 404 {
			t.Errorf("%s: %d", path, c)
		}
	}
	delete(held, secret)
	if c := status("/calendar/" + secret + ".ics"); c != 404 {
		t.Error("after revoking:", c)
	}
}

func TestAWinterWithNothingToComeIsStillACalendar(t *testing.T) {
	_, ps := feed(t, nil, memory{})
	if ps[0].Value != "VCALENDAR" || ps[len(ps)-1] != (icalread.Property{Name: "END", Value: "VCALENDAR"}) {
		t.Error(ps)
	}
}
