package tape_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
	"lathwatch/sensors/units"
)

var noLine = cmpopts.IgnoreFields(tape.Row{}, "Line")

func at(s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t.UTC()
}

func read(t *testing.T, text string) ([]tape.Row, []string) {
	t.Helper()
	rows, bad, err := tape.ReadReadings("readings.csv", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, b := range bad {
		said = append(said, b.Error())
	}
	return rows, said
}

// Unit names are those of RFC 8428 section 12.1 (Cel, %RH, V, lx, m/s) and RFC 8798 (hPa, mm is of RFC 8798 too); % alone is a share.
func TestEveryUnitIsReadWithItsDigits(t *testing.T) {
	rows, bad := read(t, `time,probe,value,unit
2026-01-12T00:00:00Z,a,-4.125,Cel
2026-01-12T00:00:00Z,b,4.0625,Cel
2026-01-12T01:00:00+01:00,c,85.5,%RH
2026-01-12T00:00:00Z,d,50,%
2026-01-12T00:00:00Z,e,1.2105,V
2026-01-12T00:00:00Z,f,0.2,mm
2026-01-12T00:00:00Z,g,400,lx
2026-01-12T00:00:00Z,h,2.5,m/s
2026-01-12T00:00:00Z,i,1013.25,hPa
`)
	var got []string
	for _, r := range rows {
		got = append(got, fmt.Sprintf("%s %v %s %d x %d/%d = %s", r.At.Format(time.TimeOnly), r.Line, r.Probe, r.Raw, r.Step.Num, r.Step.Den, r.Step.Unit.Format(r.Reading().Whole())))
	}
	want := []string{
		"00:00:00 2 a -4125 x 1/1 = -4.125 °C", "00:00:00 3 b 40625 x 1/10 = 4.063 °C", "00:00:00 4 c 855 x 1/1 = 85.5 %RH", "00:00:00 5 d 500 x 1/1 = 50 %",
		"00:00:00 6 e 1210500 x 1/1 = 1.2105 V", "00:00:00 7 f 200 x 1/1 = 0.2 mm", "00:00:00 8 g 400 x 1/1 = 400 lx", "00:00:00 9 h 2500 x 1/1 = 2.5 m/s", "00:00:00 10 i 101325 x 1/1 = 1013.25 hPa"}
	if d := cmp.Diff(want, got); d != "" || bad != nil {
		t.Errorf("(-want +got)\n%s%v", d, bad)
	}
}

func TestBrokenRowsAreNamedAndTheRestUsed(t *testing.T) {
	rows, bad := read(t, strings.Join([]string{"\ufefftime,probe,value,unit\r", // 1
		"2026-01-12T00:00:00Z,D7-t,4.1,Cel\r",               // 2
		"2026-01-12 00:05,D7-t,4.1,Cel",                     // 3
		"2026-01-12T00:05:00,D7-t,4.1,Cel",                  // 4
		"2026-01-12T00:05:00Z,D7 t,4.1,Cel",                 // 5
		"2026-01-12T00:05:00Z,D7-t,NaN,Cel",                 // 6
		"2026-01-12T00:05:00Z,D7-t,\"4,1\",Cel",             // 7
		"2026-01-12T00:05:00Z,D7-t,4.1,C",                   // 8
		"2026-01-12T00:05:00Z,D7-t,4.1",                     // 9
		"",                                                  // 10
		"2026-02-30T00:05:00Z,D7-t,4.1,Cel",                 // 11
		"2026-01-12T00:05:00Z,D7-t,1e3,Cel",                 // 12
		"0001-01-01T00:00:00Z,D7-t,4.1,Cel",                 // 13
		"2026-01-12T00:10:00Z,\"D7-t\",4.2,Cel",             // 14
		"2026-01-12T00:15:00Z,D7-t,,Cel",                    // 15
		"2026-01-12T00:00:00Z,D7-t,4.10,Cel",                // 16 the same as 2
		"2026-01-12T00:20:00Z,D7-t,4.1,Cel",                 // 17
		"2026-01-12T01:20:00+01:00,D7-t,4.2,Cel", "x\"y\"z", // 18, 19
	}, "\n"))
	if len(rows) != 2 || rows[0].Line != 2 || rows[1].Line != 14 {
		t.Errorf("%+v", rows)
	}
	want := []string{
		`readings.csv line 3: time "2026-01-12 00:05": write date, time and offset like 2026-01-12T14:05:00Z or 2026-01-12T15:05:00+01:00`,
		`readings.csv line 4: time "2026-01-12T00:05:00": write date, time and offset like 2026-01-12T14:05:00Z or 2026-01-12T15:05:00+01:00`,
		`readings.csv line 5: probe "D7 t": write its id, letters, digits and hyphens only`,
		`readings.csv line 6: value "NaN" is not a plain decimal number`,
		`readings.csv line 7: 5 fields: write time,probe,value,unit`,
		`readings.csv line 8: unknown unit "C": use one of Cel, %RH, %, V, hPa, lx, mm, m/s, count, uS/cm, g, %EL, /`,
		`readings.csv line 9: 3 fields: write time,probe,value,unit`,
		`readings.csv line 11: time "2026-02-30T00:05:00Z": write date, time and offset like 2026-01-12T14:05:00Z or 2026-01-12T15:05:00+01:00`,
		`readings.csv line 12: value "1e3" is not a plain decimal number`,
		`readings.csv line 13: time "0001-01-01T00:00:00Z": the year is not one of 1970 to 2200`,
		`readings.csv line 15: value "" is not a plain decimal number`,
		`readings.csv line 17: probe D7-t says something else for the same instant at line 18: neither is used`,
		`readings.csv line 18: probe D7-t says something else for the same instant at line 17: neither is used`,
		`readings.csv line 19: 1 fields: write time,probe,value,unit`}
	if d := cmp.Diff(want, bad); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

func TestAFileOfAnotherKindIsRefusedWhole(t *testing.T) {
	for _, text := range []string{"", "time,subject,what,detail\n", "Date;Value\n1;2\n"} {
		if _, _, err := tape.ReadReadings("readings.csv", strings.NewReader(text)); err == nil || !strings.HasPrefix(err.Error(), "readings.csv line 1: the first line is ") {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestRoundsTakeTheNewestSinceTheLast(t *testing.T) {
	rows, _ := read(t, `time,probe,value,unit
2026-01-12T00:00:00Z,a,1,Cel
2026-01-12T00:00:01Z,a,2,Cel
2026-01-12T00:04:00Z,a,3,Cel
2026-01-12T00:03:00Z,b,4,Cel
2026-01-12T00:05:00Z,c,5,Cel
2026-01-12T00:20:00.5Z,a,6,Cel
`)
	var got []string
	for r := range tape.Rounds(rows, 5*time.Minute) {
		s := r.At.Format(time.TimeOnly)
		for _, x := range r.Readings {
			s += fmt.Sprintf(" %s=%s", x.Probe, x.Unit().Number(x.Whole()))
		}
		got = append(got, s)
	}
	if d := cmp.Diff([]string{"00:00:00 a=1", "00:05:00 a=3 b=4 c=5", "00:25:00 a=6"}, got); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

func rowGen() *rapid.Generator[tape.Row] {
	steps := []units.Step{units.Whole(units.Temperature), {Unit: units.Temperature, Num: 125, Den: 2}, {Unit: units.Voltage, Num: 125, Den: 1}, units.Whole(units.Moisture), units.Whole(units.Light),
		{Unit: units.Temperature, Num: 1, Den: 100}}
	return rapid.Custom(func(t *rapid.T) tape.Row {
		k := rapid.IntRange(0, len(steps)-1).Draw(t, "step")
		return tape.Row{At: at("2026-01-12T00:00:00Z").Add(time.Duration(rapid.IntRange(0, 4000).Draw(t, "s")) * time.Second), Probe: sensors.ProbeID(fmt.Sprint("p", k)),
			Raw: rapid.Int64Range(-100_000, 100_000).Draw(t, "raw"), Step: steps[k]}
	})
}

func unique(rows []tape.Row) []tape.Row {
	slices.SortStableFunc(rows, func(a, b tape.Row) int {
		if c := a.At.Compare(b.At); c != 0 {
			return c
		}
		return strings.Compare(string(a.Probe), string(b.Probe))
	})
	return slices.CompactFunc(rows, func(a, b tape.Row) bool { return a.At.Equal(b.At) && a.Probe == b.Probe })
}

// A quantity is raw*num/den; two rows say the same when these agree, whatever their step.
func same(a, b tape.Row) bool {
	return a.At.Equal(b.At) && a.Probe == b.Probe && a.Step.Unit == b.Step.Unit && a.Raw*int64(a.Step.Num)*int64(b.Step.Den) == b.Raw*int64(b.Step.Num)*int64(a.Step.Den)
}

func TestReadingsRoundTripExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := unique(rapid.SliceOf(rowGen()).Draw(t, "rows"))
		var b bytes.Buffer
		if err := tape.WriteReadings(&b, slices.Values(rows)); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		got, bad, err := tape.ReadReadings("x", &b)
		if err != nil || len(bad) > 0 || !slices.EqualFunc(rows, got, same) {
			t.Fatalf("%v %v\n%s\n%+v\n%+v", err, bad, text, rows, got)
		}
		var again bytes.Buffer
		if err := tape.WriteReadings(&again, slices.Values(got)); err != nil || again.String() != text {
			t.Fatalf("%v\n%s\n%s", err, text, again.String())
		}
	})
}

func TestOtherOrderOfRowsSameRounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOf(rowGen()).Draw(t, "rows") // contradictions included
		every := rapid.SampledFrom([]time.Duration{time.Minute, 5 * time.Minute, time.Hour}).Draw(t, "every")
		tell := func() string {
			var b bytes.Buffer
			if err := tape.WriteReadings(&b, slices.Values(rows)); err != nil {
				t.Fatal(err)
			}
			got, bad, err := tape.ReadReadings("x", &b)
			return fmt.Sprint(slices.Collect(tape.Rounds(got, every)), len(bad), err)
		}
		first := tell()
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
		if second := tell(); second != first {
			t.Fatalf("\n%s\n%s", first, second)
		}
	})
}

func TestEntriesComeInOrderNotesBeforeTheirRound(t *testing.T) {
	rows, _ := read(t, "time,probe,value,unit\n2026-01-12T00:05:00Z,a,1,Cel\n2026-01-12T00:10:00Z,a,1,Cel\n")
	notes := []sensors.Note{{ID: "z", At: at("2026-01-12T09:00:00Z")}, {ID: "b", At: at("2026-01-12T00:10:00Z")}, {ID: "a", At: at("2026-01-12T00:10:00Z")}}
	var got []string
	for e, err := range tape.Entries(rows, 5*time.Minute, notes) {
		if err != nil {
			t.Fatal(err)
		}
		s := e.At.Format("15:04")
		if e.Note != nil {
			s += " " + e.Note.ID
		}
		got = append(got, s)
	}
	if d := cmp.Diff([]string{"00:05", "00:10 a", "00:10 b", "00:10", "09:00 z"}, got); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

func TestFitNamesWhatTheGardenCannotUse(t *testing.T) {
	rows, _ := read(t, "time,probe,value,unit\n2026-01-12T00:00:00Z,x,1,Cel\n2026-01-12T00:00:00Z,D7-t,1,V\n2026-01-12T00:00:00Z,D7-m,412,count\n2026-01-12T00:05:00Z,D7-t,1,Cel\n")
	g := &garden.Garden{Probes: []garden.Probe{{ID: "D7-t", Measures: garden.PotTemperature}, {ID: "D7-m", Measures: garden.PotMoisture, Unit: units.Voltage}}}
	kept, bad := tape.Fit("r.csv", rows, g)
	if len(kept) != 1 || kept[0].Line != 5 {
		t.Errorf("%+v", kept)
	}
	want := []string{"r.csv line 2: the garden has no probe x", "r.csv line 3: probe D7-t measures pot-temperature, which is not in V", "r.csv line 4: probe D7-m speaks V, not count"}
	if d := cmp.Diff(fmt.Sprint(want), fmt.Sprint(bad)); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

func FuzzReadings(f *testing.F) {
	f.Add([]byte("time,probe,value,unit\n2026-01-12T00:00:00Z,D7-t,-4.0625,Cel\n2026-01-12T00:00:00Z,D7-t,-4.125,Cel\n"))
	f.Add([]byte("\ufefftime,probe,value,unit\r\n2026-01-12T00:00:00.123456789+05:45,\"a\",.5,%\r\n,,,\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		rows, bad, err := tape.ReadReadings("x", bytes.NewReader(text))
		if err != nil {
			return
		}
		for _, b := range bad {
			if b.Line < 2 || b.Say == "" {
				t.Fatalf("%+v", b)
			}
		}
		for range tape.Rounds(rows, 5*time.Minute) {
		}
		var b bytes.Buffer
		if err := tape.WriteReadings(&b, slices.Values(rows)); err != nil {
			t.Fatal(err)
		}
		got, bad, err := tape.ReadReadings("x", &b)
		if err != nil || len(bad) > 0 || !slices.EqualFunc(rows, got, same) {
			t.Fatalf("%v %v %s", err, bad, cmp.Diff(rows, got, noLine))
		}
	})
}
