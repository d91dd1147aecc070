package push_test

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

func check(t testing.TB, name, payload string) {
	t.Helper()
	if err := loadSchema(t, name).check(payload); err != nil {
		t.Errorf("%s: %v: %s", name, err, payload)
	}
}

// Every topic the about payload tells of has its schema, and what is sent there passes it.
func TestPayloadsPassTheirSchemas(t *testing.T) {
	c := change(0)
	a := alerts.Alert{Kind: "water", Subject: "D7", Place: "table", Pots: []string{"D7"}, Rank: alerts.Week, Key: "k1", Since: noon, Text: "Water D7."}
	bare := alerts.Alert{Kind: "gap", Subject: "garden", Rank: alerts.Week, Key: "k2"}
	st := bed(noon)
	st.Pots[0] = known(st.Pots[0])
	full := bed(noon)
	full.Places[0].Air, full.Places[0].AirAt = -4250, noon
	full.Places[0].Expected = alerts.Interval{Low: -6.04, High: -3.96, OK: true}
	full.Places[0].Offset = alerts.Interval{Low: 1, High: 2, OK: true}
	full.Places[0].GapSince = noon
	over := c
	over.State = alerts.Cleared
	garden := c
	garden.Place, garden.Pots, garden.Until, garden.To = "", nil, noon, "sitter"
	for _, p := range []struct{ schema, payload string }{
		{"pot.json", string(alerts.PotState(bed(noon), 0))},
		{"pot.json", string(alerts.PotState(st, 0))},
		{"place.json", string(alerts.PlaceState(bed(noon), 0))},
		{"place.json", string(alerts.PlaceState(full, 0))},
		{"rehearsed.json", string(alerts.MessageLine(c))},
		{"message.json", string(alerts.SentMessage(c, c.Text))},
		{"message.json", string(alerts.SentMessage(garden, c.Text))},
		{"alert.json", string(alerts.AlertState(a))},
		{"alert.json", string(alerts.AlertState(bare))},
		{"alert.json", string(alerts.AlertOver(over))},
		{"note.json", `{"subject":"D7","what":"watered","detail":"150 mL"}`},
		{"status.json", `"online"`},
	} {
		check(t, p.schema, p.payload)
	}
}

func TestAboutNamesASchemaForEveryTopic(t *testing.T) {
	br := &pages{}
	r := open(t, "mqtt", "", push.Env{Local: br, NoteTaker: func(_ context.Context, _ []byte) error { return nil }})
	stop := start(t, r)
	eventually(t, 5*time.Second, "about was not published", func() bool { return br.last(topics.About()) != "" })
	stop()
	check(t, "about.json", br.last(topics.About()))
	var about struct {
		Topics []struct{ Topic, Schema string }
	}
	if err := json.Unmarshal([]byte(br.last(topics.About())), &about); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(schemas, "*.json"))
	if err != nil {
		t.Fatal(err)
	}
	unused := map[string]bool{}
	for _, f := range files {
		unused[filepath.Base(f)] = true
	}
	for _, line := range about.Topics {
		if _, err := os.Stat(filepath.Join(schemas, line.Schema)); err != nil {
			t.Errorf("topic %s: %v", line.Topic, err)
		}
		delete(unused, line.Schema)
	}
	delete(unused, "place.json")     // lines of rehearse
	delete(unused, "rehearsed.json") // lines of rehearse
	if len(unused) > 0 {
		t.Errorf("schemas no topic uses: %v", unused)
	}
}

// The unit names and what they mean are those of RFC 8428 (2018), section 12.1, table 1 (also IANA's SenML Units registry).
func TestReadingsAreSenML(t *testing.T) {
	for _, c := range []struct {
		step units.Step
		raw  int64
		want string
	}{
		{units.Step{Unit: units.Temperature, Num: 125, Den: 2}, 401, `"u":"Cel","t":1800964800,"v":25.063`},
		{units.Whole(units.Temperature), 0, `"u":"Cel","t":1800964800,"v":0`},
		{units.Whole(units.Temperature), -500, `"u":"Cel","t":1800964800,"v":-0.5`},
		{units.Whole(units.Humidity), 855, `"u":"%RH","t":1800964800,"v":85.5`},
		{units.Whole(units.Moisture), 345, `"u":"/","t":1800964800,"v":0.345`},
		{units.Whole(units.Voltage), 1802000, `"u":"V","t":1800964800,"v":1.802`},
		{units.Whole(units.Pressure), 101325, `"u":"Pa","t":1800964800,"v":101325`},
		{units.Whole(units.Light), 20000, `"u":"lx","t":1800964800,"v":20000`},
		{units.Whole(units.Length), 200, `"u":"m","t":1800964800,"v":0.0002`}, // 0.2 mm of rain
		{units.Whole(units.Speed), 2300, `"u":"m/s","t":1800964800,"v":2.3`},
		{units.Whole(units.Count), 612, `"u":"count","t":1800964800,"v":612`},
		{units.Whole(units.Conductivity), 1500, `"u":"S/m","t":1800964800,"v":0.15`}, // 1.5 mS/cm
		{units.Whole(units.Mass), 2750, `"u":"kg","t":1800964800,"v":2.75`},
		{units.Whole(units.Charge), 900, `"u":"%EL","t":1800964800,"v":90`},
		{units.Whole(units.Ratio), 500000, `"u":"/","t":1800964800,"v":0.5`},
	} {
		got, ok := push.Reading(site, &sensors.Round{At: noon}, sensors.Reading{Probe: "P-1", Raw: c.raw, Step: c.step})
		if want := `[{"bn":"elderbank:","n":"P-1",` + c.want + `}]`; !ok || string(got) != want {
			t.Errorf("got %s, want %s", got, want)
		}
		check(t, "reading.json", string(got))
	}
	if _, ok := push.Reading(site, &sensors.Round{At: noon}, sensors.Reading{Probe: "P-1", Step: units.Whole(units.Temperature), Quality: sensors.Suspect}); ok {
		t.Error("a suspect reading is published as if it were valid")
	}
}

func known(p alerts.PotStanding) alerts.PotStanding {
	p.Regime, p.Phase, p.Stage, p.Frozen = garden.RegimeNamed("dry-winter"), garden.Growth, alerts.Nose, true
	p.Wetness, p.WetnessAt = 501, noon
	p.DaysLeft = alerts.Interval{Low: 12.04, High: math.Inf(1), OK: true}
	p.ColdCredit = alerts.Interval{Low: 56.06, High: 57, OK: true}
	p.Cold = alerts.Enough
	p.Forcing = alerts.Interval{Low: 0, High: 3.25, OK: true}
	p.FreezeThaw = 1
	p.Break = [2]garden.Date{20879, 20896}
	p.FeedReleased = alerts.Interval{Low: 0.1, High: 0.149, OK: true}
	p.Verdict = "frozen"
	return p
}

func TestStateLinesAreExactlyAsPromised(t *testing.T) {
	st := bed(noon)
	want := `{"state_at":"2027-01-26T12:00:00Z","pot":"D7","place":"table","regime":null,"phase":"rest","frozen":false,"wetness":null,"wetness_at":null,"days_left":null,` +
		`"cold_credit":null,"cold":null,"forcing":null,"freeze_thaw":0,"stage":"closed","break":null,"feed_released":null,"verdict":"nothing to do"}`
	if d := cmp.Diff(want, string(alerts.PotState(st, 0))); d != "" {
		t.Error(d)
	}
	st.Pots[0] = known(st.Pots[0])
	want = `{"state_at":"2027-01-26T12:00:00Z","pot":"D7","place":"table","regime":"dry-winter","phase":"growth","frozen":true,"wetness":50.1,"wetness_at":"2027-01-26T12:00:00Z","days_left":[12,null],` +
		`"cold_credit":[56.1,57],"cold":"enough","forcing":[0,3.3],"freeze_thaw":1,"stage":"nose","break":["2027-03-02","2027-03-19"],"feed_released":0.12,"verdict":"frozen"}`
	if d := cmp.Diff(want, string(alerts.PotState(st, 0))); d != "" {
		t.Error(d)
	}
	p := &st.Places[0]
	want = `{"state_at":"2027-01-26T12:00:00Z","place":"table","air":null,"expected_low":null,"offset":null,"gap_since":null,"heat":null}`
	if d := cmp.Diff(want, string(alerts.PlaceState(st, 0))); d != "" {
		t.Error(d)
	}
	p.Air, p.AirAt, p.GapSince = -40, noon, noon
	p.Expected, p.Offset = alerts.Interval{Low: -6.04, High: -0.04, OK: true}, alerts.Interval{Low: 0.5, High: 1, OK: true}
	want = `{"state_at":"2027-01-26T12:00:00Z","place":"table","air":0,"expected_low":[-6,0],"offset":0.8,"gap_since":"2027-01-26T12:00:00Z","heat":null}`
	if d := cmp.Diff(want, string(alerts.PlaceState(st, 0))); d != "" {
		t.Error(d)
	}
	want = `{"at":"2027-01-26T12:00:00Z","kind":"water-light","rank":"week","place":"table","pots":["D7"],"key":"k00000","text":"a < b & c"}`
	c := change(0)
	c.Text = "a < b & c"
	if d := cmp.Diff(want, string(alerts.MessageLine(c))); d != "" {
		t.Error(d)
	}
}

// Whatever the folding comes to, the line is valid JSON that passes its schema and names no minus nought.
func TestStateLinesAreAlwaysJSON(t *testing.T) {
	pot := loadSchema(t, "pot.json")
	interval := rapid.Custom(func(t *rapid.T) alerts.Interval {
		return alerts.Interval{Low: rapid.Float64().Draw(t, "low"), High: rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.Copysign(0, -1), 1e300, 0.05}).Draw(t, "high"), OK: rapid.Bool().Draw(t, "ok")}
	})
	rapid.Check(t, func(t *rapid.T) {
		st := bed(noon)
		p := &st.Pots[0]
		p.DaysLeft, p.ColdCredit, p.Forcing = interval.Draw(t, "days"), interval.Draw(t, "cold"), interval.Draw(t, "forcing")
		p.Verdict = rapid.String().Draw(t, "verdict")
		line := string(alerts.PotState(st, 0))
		if strings.Contains(line, "\n") || strings.Contains(line, "-0,") || strings.Contains(line, "-0]") {
			t.Fatalf("line %q", line)
		}
		if err := pot.check(line); err != nil {
			t.Fatal(err)
		}
	})
}

func TestTopicsStayInTheirLevels(t *testing.T) {
	got := []string{topics.Status(), topics.Message(), topics.Note(), topics.About(), topics.Reading("D7-t"), topics.Pot("D7"), topics.Alert("water", "D7"),
		topics.Alert("water", "a/+/#"), topics.Alert("gap", ""), push.Topics{Site: "x/y"}.Status()}
	want := []string{"lathwatch/elderbank/status", "lathwatch/elderbank/message", "lathwatch/elderbank/note", "lathwatch/elderbank/about", "lathwatch/elderbank/reading/D7-t",
		"lathwatch/elderbank/pot/D7", "lathwatch/elderbank/alert/water/D7", "lathwatch/elderbank/alert/water/a____", "lathwatch/elderbank/alert/gap/garden", "lathwatch/x_y/status"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestNotesAreReadStrictly(t *testing.T) {
	note := loadSchema(t, "note.json")
	good, err := push.DecodeNote([]byte(`{"at":"2027-01-25T09:00:00+01:00","about":"12h","subject":"D7","what":"watered","detail":"150 mL","id":"n1"}`), noon)
	want := sensors.Note{ID: "n1", At: time.Date(2027, 1, 25, 8, 0, 0, 0, time.UTC), Made: noon, About: 12 * time.Hour, Subject: "D7", What: sensors.Watered, Detail: "150 mL"}
	if d := cmp.Diff(want, good); d != "" || err != nil {
		t.Error(d, err)
	}
	if n, err := push.DecodeNote([]byte(`{"subject":"D7","what":"nose"}`), noon); err != nil || !n.At.Equal(noon) {
		t.Errorf("%+v, %v", n, err)
	}
	for _, c := range []struct{ payload, want string }{
		{`watered`, "reading a note"},
		{`{"subject":"D7","what":"drenched"}`, `"drenched" is not known`},
		{`{"what":"watered"}`, "no subject"},
		{`{"subject":"D7","what":"watered","volume":3}`, "unknown field"},
		{`{"subject":"D7","what":"watered","about":"soon"}`, "no length of time"},
		{`{"subject":"D7","what":"watered","at":"yesterday"}`, "reading a note"},
		{`{"subject":"D7","what":"watered"} {}`, "something follows"},
	} {
		if _, err := push.DecodeNote([]byte(c.payload), noon); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.payload, err)
		}
	}
	if whats := note.root["properties"].(map[string]any)["what"].(map[string]any)["enum"].([]any); !slices.EqualFunc(whats, sensors.Whats, func(a any, w sensors.What) bool { return a == string(w) }) {
		t.Errorf("the schema knows %v, the program %v", whats, sensors.Whats)
	}
}
