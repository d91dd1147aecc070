package exchange

import (
	"bytes"
	"io"
	"math/big"
	"regexp"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// lawful holds of every file read: rows in order, each instant and probe once, safe ids, known units, and every whole value within half
// a unit of the quantity the counts stand for, so that no product overflowed on the way.
func lawful(t *testing.T, text string, got Read) {
	t.Helper()
	lines := strings.Count(text, "\n") + 1
	for _, b := range got.Bad {
		if b.Line < 1 || b.Line > lines || b.Say == "" || strings.ContainsAny(b.File, "\n") {
			t.Errorf("of %d lines: %+v", lines, b)
		}
	}
	for i, r := range got.Rows {
		if !garden.SafeID(string(r.Probe)) || !r.Unit().Known() || r.Step.Num == 0 || r.Step.Den <= 0 || r.At.Year() < 1970 || r.At.Year() > 2200 {
			t.Fatalf("row %+v", r)
		}
		if err := Sound(r); err != nil {
			t.Errorf("a row that was read would not pass the socket: %v", err)
		}
		off := new(big.Rat).Sub(quantity(r.Reading), new(big.Rat).SetInt64(r.Whole()))
		if off.Abs(off).Cmp(big.NewRat(1, 2)) > 0 {
			t.Errorf("%+v is %d whole units", r, r.Whole())
		}
		if i > 0 && (r.At.Before(got.Rows[i-1].At) || r.At.Equal(got.Rows[i-1].At) && r.Probe <= got.Rows[i-1].Probe) {
			t.Errorf("rows %d and %d are out of order", i-1, i)
		}
	}
}

// asRounds gathers rows of one instant into rounds, as the journal would.
func asRounds(rows []sensors.LateReading) func(yield func(*sensors.Round, error) bool) {
	return func(yield func(*sensors.Round, error) bool) {
		for i := 0; i < len(rows); {
			r := sensors.Round{At: rows[i].At}
			for ; i < len(rows) && rows[i].At.Equal(r.At); i++ {
				r.Readings = append(r.Readings, rows[i].Reading)
			}
			if !yield(&r, nil) {
				return
			}
		}
	}
}

// comesBack writes rows in a format and reads them again.
func comesBack(t *testing.T, rows []sensors.LateReading, write func(io.Writer) (Tally, error), read func(string, io.Reader) (Read, error), same func(a, b sensors.LateReading) bool) {
	t.Helper()
	var b bytes.Buffer
	if _, err := write(&b); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	got, err := read("again", &b)
	if err != nil || len(got.Bad) > 0 || len(got.Rows) != len(rows) {
		t.Fatalf("%d rows came back as %d, %v %v: %.400s", len(rows), len(got.Rows), got.Bad, err, text)
	}
	for i, r := range got.Rows {
		if !r.At.Equal(rows[i].At) || r.Probe != rows[i].Probe || !same(rows[i], r) {
			t.Errorf("%+v came back as %+v", rows[i], r)
		}
	}
}

// FuzzSenML: what is read is lawful, comes back from a SenML file in the very counts and quality it was, and from a readings.csv as the
// same quantity.
func FuzzSenML(f *testing.F) {
	for _, s := range []string{`[{"bt":1793491200,"n":"a","u":"Cel","v":4.5},{"n":"b","u":"Cel","v":1e0}]`,
		`[{"bt":1793491201,"bn":"lane-end/","bu":"Cel","bv":20,"n":"a","v":0.5},{"n":"_b","u":"Cel","v":1},{"n":"c","u":"furlong","v":1}]`,
		`[{"bt":1793491200,"n":"t-16","u":"Cel","v":4.0625,"raw":65,"num":125,"den":2,"suspect":true}]`, `[{"bt":1e30,"n":"a","u":"Cel","v":1}]`,
		`[{"bt":1793491200,"n":"a","u":"Cel","v":1e999999999}]`, `[{"bt":1793491200,"n":"a","u":"Cel","v":4.5,"raw":9,"num":-1000,"den":-2}]`,
		`[{"bt":1793491200,"n":"a","u":"Pa","v":101325},{"n":"b","u":"S/m","t":0.5,"v":0.02}]`, `[{"bt":1793491200,"n":"a","u":"count","v":5000000000,"raw":10000000000,"num":1000000000,"den":2000000000}]`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ReadSenML("x", strings.NewReader(text))
		if err != nil {
			return
		}
		lawful(t, text, got)
		comesBack(t, got.Rows, func(w io.Writer) (Tally, error) { return WriteSenML(w, "lane-end", asRounds(got.Rows)) }, ReadSenML, func(a, b sensors.LateReading) bool {
			return a.Quality == b.Quality && quantity(a.Reading).Cmp(quantity(b.Reading)) == 0
		})
		var valid []sensors.LateReading
		for _, r := range got.Rows {
			if r.Quality == sensors.Valid {
				valid = append(valid, r)
			}
		}
		comesBack(t, valid, func(w io.Writer) (Tally, error) { return WriteCSV(w, asRounds(valid)) }, ReadCSV, func(a, b sensors.LateReading) bool { return a.Unit() == b.Unit() && a.Whole() == b.Whole() })
	})
}

// FuzzLines: what is read from line protocol is lawful, stood there as a plain decimal, and comes back.
func FuzzLines(f *testing.F) {
	for _, s := range []string{"temperature,node=n,probe=a value=4.5 1793491200000\nfault,probe=a kind=1 1793491200000\n", "temperature,probe=a value=-0.0625,suspect=1 1793491200001", "counts,probe=a value=0x10 1793491200000",
		"counts,probe=a value=1/3 1793491200000", "moisture,probe=a\\ b value=4 1793491200000", "moisture,probe=a value=4i 1793491200000", "# note\nhumidity,probe=h,probe=g value=1e1 9", "pressure,probe=p value=1e999999 1", "light,probe=\"l\" value=1 1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ReadLines("x", strings.NewReader(text))
		if err != nil {
			return
		}
		lawful(t, text, got)
		for _, r := range got.Rows {
			if !stands(text, decimalOf(r.Reading)) {
				t.Errorf("%+v is made up from %q", r, text)
			}
		}
		if fewDigits(got.Rows) {
			comesBack(t, got.Rows, func(w io.Writer) (Tally, error) { return WriteLines(w, "lane-end", asRounds(got.Rows)) }, ReadLines, func(a, b sensors.LateReading) bool {
				return a.Quality == b.Quality && a.Unit() == b.Unit() && a.Whole() == b.Whole()
			})
		}
	})
}

func decimalOf(r sensors.Reading) *big.Rat {
	q := quantity(r)
	return q.Quo(q, new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(r.Unit().Digits())), nil)))
}

// lineNumber is a float of line protocol: leading noughts are let pass, as servers do, where JSON (RFC 8259 section 6) has none.
var lineNumber = regexp.MustCompile(`^[-+]?[0-9]+(\.[0-9]*)?([eE][-+]?0*[0-9]{1,3})?$`)

// stands reports whether a number of about that value stands in the text behind "value=".
func stands(text string, want *big.Rat) bool {
	for _, part := range strings.Split(text, "value=")[1:] {
		end := strings.IndexAny(part, " ,\n")
		if end < 0 {
			end = len(part)
		}
		if !lineNumber.MatchString(part[:end]) || end > 60 {
			continue
		}
		v, ok := new(big.Rat).SetString(part[:end])
		if !ok {
			continue
		}
		if off := v.Sub(v, want); off.Abs(off).Cmp(big.NewRat(1, 1000)) <= 0 {
			return true
		}
	}
	return false
}

// fewDigits: a float of line protocol tells fifteen digits apart.
func fewDigits(rows []sensors.LateReading) bool {
	for _, r := range rows {
		if r.Raw > 1e15 || r.Raw < -1e15 {
			return false
		}
	}
	return true
}

// FuzzWide: what is read from a wide CSV is lawful, comes from a cell of a column that was asked for, does not change when the order
// of the columns' map does, and comes back as the same quantity, in coarser steps where its finest digits were noughts.
func FuzzWide(f *testing.F) {
	f.Add("When;Bench °C;Pot 7\n01.11.2026 01:00;4,5;51,2\n01.11.2026 01:05;;50\nlater;1;1\n", true)
	f.Add("time,a,b\n2026-11-01T00:00:00Z,1.5,2\n2026-11-01T00:00:00+14:00,,\"2\"\n", false)
	f.Add("time,a,b,a\n2026-11-01T00:00:00Z,\"1\r\n2026\",2\n", false)
	f.Add("\ufeffb,time,a\n1,2026-11-01T00:00:00.123456789Z\n\"", false)
	f.Fuzz(func(t *testing.T, text string, comma bool) {
		m := Wide{Time: "time", Columns: []Column{{"a", "air", "Cel"}, {"b", "d7-m", "%"}}}
		if comma {
			m = Wide{Time: "When", Layout: "02.01.2006 15:04", Zone: time.UTC, Comma: ';', Decimal: ',', Columns: []Column{{"Bench °C", "air", "Cel"}, {"Pot 7", "d7-m", "%"}}}
		}
		got, err := ReadWide("x", strings.NewReader(text), m)
		turned := m
		turned.Columns = []Column{m.Columns[1], m.Columns[0]}
		other, errOther := ReadWide("x", strings.NewReader(text), turned)
		if (err == nil) != (errOther == nil) || len(got.Rows) != len(other.Rows) {
			t.Fatalf("%d rows, %v; columns turned: %d rows, %v", len(got.Rows), err, len(other.Rows), errOther)
		}
		if err != nil {
			return
		}
		lawful(t, text, got)
		for i, r := range got.Rows {
			if r != other.Rows[i] {
				t.Errorf("%+v, columns turned: %+v", r, other.Rows[i])
			}
			if want := map[sensors.ProbeID]units.Unit{"air": units.Temperature, "d7-m": units.Moisture}[r.Probe]; r.Unit() != want || r.Quality != sensors.Valid {
				t.Errorf("%+v is in no column", r)
			}
		}
		comesBack(t, got.Rows, func(w io.Writer) (Tally, error) { return WriteCSV(w, asRounds(got.Rows)) }, ReadCSV, func(a, b sensors.LateReading) bool {
			return a.Quality == b.Quality && sameQuantity(a.Reading, b.Reading)
		})
	})
}
