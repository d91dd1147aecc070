package exchange

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/checks"
	"lathwatch/sensors/units"
)

var (
	t0        = time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)
	sixteenth = units.Step{Unit: units.Temperature, Num: 125, Den: 2}
	bg        = context.Background()
)

func open(t *testing.T) *journal.Journal {
	t.Helper()
	j, err := journal.Open(filepath.Join(t.TempDir(), "j.journal"), journal.Options{Ballast: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

// filled holds every unit, sixteenths, nought, negatives, a suspect reading, a fault, and a reading between rounds.
func filled(t *testing.T) *journal.Journal {
	j := open(t)
	var ks []journal.Kept
	for i := range 700 {
		r := sensors.Round{At: t0.Add(time.Duration(i) * 5 * time.Minute)}
		for u := units.Temperature; u.Known(); u++ {
			r.Readings = append(r.Readings, sensors.Reading{Probe: sensors.ProbeID(fmt.Sprintf("a-%02d", u)), Raw: int64(i*7 - 900), Step: units.Whole(u)})
		}
		r.Readings = append(r.Readings, sensors.Reading{Probe: "t-16", Raw: int64(i - 300), Step: sixteenth})
		if i%50 == 3 {
			r.Readings[2].Quality = sensors.Suspect
			r.Faults = []sensors.Fault{{Probe: "z", Kind: sensors.Silent, Why: "gone"}}
		}
		ks = append(ks, journal.Kept{Round: r})
	}
	if err := j.KeepAll(bg, ks); err != nil {
		t.Fatal(err)
	}
	odd := sensors.Late{Readings: []sensors.LateReading{{At: t0.Add(1234567 * time.Millisecond), Reading: sensors.Reading{Probe: "t-16", Raw: 5, Step: sixteenth}}}}
	if _, err := j.AddLate(bg, t0, odd); err != nil {
		t.Fatal(err)
	}
	return j
}

// said is every reading as a line: instant, probe, quantity (and step, when exact), quality.
func said(t *testing.T, j *journal.Journal, exact, suspects bool) []string {
	t.Helper()
	var out []string
	for r, err := range Rounds(j.Entries(bg, time.Time{}, time.Time{})) {
		if err != nil {
			t.Fatal(err)
		}
		for _, rd := range r.Readings {
			if rd.Quality == sensors.Suspect && !suspects {
				continue
			}
			s := fmt.Sprintf("%v %s %s %s %v", r.At, rd.Probe, decimal(rd), rd.Unit(), rd.Quality)
			if exact {
				s += fmt.Sprintf(" %d of %v", rd.Raw, rd.Step)
			}
			out = append(out, s)
		}
	}
	return out
}

func TestWhatIsExportedAndImportedIsTheSame(t *testing.T) {
	j := filled(t)
	entries := func() (rs func(yield func(*sensors.Round, error) bool)) {
		return Rounds(j.Entries(bg, time.Time{}, time.Time{}))
	}
	for _, f := range []struct {
		name            string
		write           func(w io.Writer) (Tally, error)
		read            func(name string, r io.Reader) (Read, error)
		exact, suspects bool
	}{
		{"csv", func(w io.Writer) (Tally, error) { return WriteCSV(w, entries()) }, ReadCSV, false, false},
		{"senml", func(w io.Writer) (Tally, error) { return WriteSenML(w, "lane-end", entries()) }, ReadSenML, true, true},
		{"lines", func(w io.Writer) (Tally, error) { return WriteLines(w, "lane-end", entries()) }, ReadLines, false, true},
	} {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		tally, err := f.write(z)
		if err = errors.Join(err, z.Close()); err != nil {
			t.Fatal(f.name, err)
		}
		plain, err := Plain(&b)
		if err != nil {
			t.Fatal(f.name, err)
		}
		got, err := f.read("x."+f.name, plain)
		if err != nil || len(got.Bad) > 0 {
			t.Fatalf("%s: %v %v", f.name, err, got.Bad)
		}
		if len(got.Rows) != tally.Readings || tally.LeftOut > 0 != !f.suspects {
			t.Errorf("%s: %d rows, %+v", f.name, len(got.Rows), tally)
		}
		k := open(t)
		for range 2 { // the same file twice is one file
			if _, err := Import(bg, k, "x", t0, got.Rows); err != nil {
				t.Fatal(err)
			}
		}
		if d := cmp.Diff(said(t, j, f.exact, f.suspects), said(t, k, f.exact, f.suspects)); d != "" {
			t.Errorf("%s (-exported +imported):\n%.3000s", f.name, d)
		}
	}
}

func TestBadRowsAreNamedByTheirLineAndTheRestIsKept(t *testing.T) {
	for _, c := range []struct {
		name, text string
		read       func(string, io.Reader) (Read, error)
		rows       int
		bad        []string
	}{
		{"readings.csv", "time,probe,value,unit\n2026-11-01T00:00:00Z,a,4.5,Cel\nnonsense\n2026-11-01T00:05:00Z,a,4.6,Cel\n", ReadCSV, 2, []string{"readings.csv line 3: "}},
		{"x.senml", `[{"bt":1793491200,"n":"a","u":"Cel","v":4.5},{"n":"b","u":"Cel","v":1e0}]` + "\n{\n" +
			`[{"n":"a","u":"Cel","v":1}]` + "\n" + `[{"bt":1793491201,"bn":"lane-end/","bu":"Cel","bv":20,"n":"a","v":0.5},{"n":"_b","u":"Cel","v":1},{"n":"c","u":"furlong","v":1}]` + "\n" +
			`[{"bt":1793491202,"n":"a","u":"Cel","v":4.5,"must_":1}]` + "\n" + `[{"bt":1.793491203e9,"n":"p","u":"Pa","v":101325}]`, ReadSenML, 4,
			[]string{"x.senml line 2: it is not a SenML pack", "x.senml line 3: record 1: its time is relative", "x.senml line 4: record 3: unknown unit", "x.senml line 4: probe \"_b\"", "x.senml line 5: label \"must_\""}},
		{"x.lines", "temperature,node=n,probe=a value=4.5 1793491200000\nrubbish\nwarp,probe=a value=1 1793491200000\nfault,probe=a kind=1 1793491200000\ntemperature,probe=a value=x 1793491200001\n",
			ReadLines, 1, []string{"x.lines line 2: ", "x.lines line 3: measurement \"warp\"", "x.lines line 5: "}},
	} {
		got, err := c.read(c.name, strings.NewReader(c.text))
		if err != nil || len(got.Rows) != c.rows || len(got.Bad) != len(c.bad) {
			t.Errorf("%s: %d rows, bad %v, %v", c.name, len(got.Rows), got.Bad, err)
			continue
		}
		for i, b := range got.Bad {
			if !strings.HasPrefix(b.Error(), c.bad[i]) {
				t.Errorf("%q, want %q", b, c.bad[i])
			}
		}
	}
}

func TestBaseFieldsAreAddedAsTheStandardSays(t *testing.T) {
	got, err := ReadSenML("x", strings.NewReader(`[{"bn":"lane-end/","bt":1793491200,"bu":"Cel","bv":20,"n":"a","v":0.5},{"n":"a","t":-60,"v":1.25},{"n":"p","u":"Pa","t":0.5,"v":101305}]`))
	if err != nil || len(got.Bad) > 0 || len(got.Rows) != 3 {
		t.Fatal(got.Bad, err)
	}
	at := time.Unix(1793491200, 0)
	for i, want := range []string{
		fmt.Sprint(at.Add(-time.Minute).UTC(), " a 21.25 °C"), fmt.Sprint(at.UTC(), " a 20.5 °C"), fmt.Sprint(at.Add(500*time.Millisecond).UTC(), " p 1013.25 hPa")} {
		if r := got.Rows[i]; fmt.Sprintf("%v %s %s %s", r.At.UTC(), r.Probe, decimal(r.Reading), r.Unit()) != want {
			t.Errorf("%v, want %s", r, want)
		}
	}
}

func TestAWideFileIsReadByAMapOfItsColumns(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip(err)
	}
	text := "\ufeffWhen;Bench °C;Pot 7;remarks\n01.11.2026 01:00;4,5;51,2;x\n01.11.2026 01:05;;50\nlater;1;1\n01.11.2026 01:10;warm;49,5;\"a;b\"\n"
	m := Wide{Time: "When", Layout: "02.01.2006 15:04", Zone: zone, Comma: ';', Decimal: ',',
		Columns: []Column{{"Bench °C", "air", "Cel"}, {"Pot 7", "d7-m", "%"}}}
	got, err := ReadWide("logger.csv", strings.NewReader(text), m)
	if err != nil || len(got.Rows) != 4 || len(got.Bad) != 2 || got.Bad[0].Line != 4 || got.Bad[1].Line != 5 {
		t.Fatalf("%v %v %v", got.Rows, got.Bad, err)
	}
	if r := got.Rows[0]; !r.At.Equal(t0) || r.Probe != "air" || r.Whole() != 4500 {
		t.Errorf("%+v", r)
	}
	m.Columns[1].Header = "Pot 8"
	if _, err := ReadWide("logger.csv", strings.NewReader(text), m); err == nil || !strings.Contains(err.Error(), `no column "Pot 8"`) {
		t.Errorf("a column that is not there gives %v", err)
	}
}

func TestWhatTheStandardSaysOfSenML(t *testing.T) {
	checks.Is(t, "pr-senml-units", map[string]string{"air_temperature": units.Temperature.SenML(), "humidity": units.Humidity.SenML(),
		"battery": units.Voltage.SenML(), "ratio": units.Ratio.SenML(), "conductivity": "S/m", "pressure": "Pa"})
	for _, u := range []string{"S/m", "Pa"} {
		if _, ok := registry[u]; !ok {
			t.Errorf("%s is of the standard's registry and is not read", u)
		}
	}
	checks.Is(t, "pr-senml-media", map[string]any{"json": MediaType, "coap": 110})
	recs, err := parsePack(`[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]`)
	if err != nil || len(recs) != 1 {
		t.Fatal(recs, err)
	}
	v, _ := recs[0].Value.Float64()
	checks.Is(t, "pr-senml-ex", map[string]any{"name": recs[0].BaseName + recs[0].Name, "value": v})
}
