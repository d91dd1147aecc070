package daemon

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/config"
	"lathwatch/sensors/tape"
)

const ratioGarden = `
[site]
id = "kessel"
latitude = 51.0
longitude = 9.0
zone = "Europe/Berlin"
[[place]]
id = "wall"
[[plant]]
id = "hybrid"
regime = "wet-winter"
[[pot]]
id = "A1"
plant = "hybrid"
place = "wall"
volume = "3 L"
relatives = ["B1", "C1", "D1"]
[[pot]]
id = "B1"
plant = "hybrid"
place = "wall"
volume = "3 L"
[[pot]]
id = "C1"
plant = "hybrid"
place = "wall"
volume = "3 L"
[[pot]]
id = "D1"
plant = "hybrid"
place = "wall"
volume = "3 L"
[[probe]]
id = "air"
measures = "air-temperature"
place = "wall"
[[probe]]
id = "A1-t"
measures = "pot-temperature"
pot = "A1"
[[probe]]
id = "A1-m"
measures = "pot-moisture"
pot = "A1"
unit = "%"
[[probe]]
id = "B1-m"
measures = "pot-moisture"
pot = "B1"
unit = "%"
`

// B1 has a probe beside A1's for a spring, C1 is put on the scales now and then, D1 is never measured. What is learnt of them outlives the
// season, and the message of the next year says who was measured, who is taken to dry like it, and who is to be looked at first.
func TestALearntRatioOutlivesTheProbeItWasLearntWith(t *testing.T) {
	g, err := config.Parse("garden.toml", []byte(ratioGarden))
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(4, 4))
	var b, n bytes.Buffer
	b.WriteString("time,probe,value,unit\n")
	n.WriteString("time,subject,what,detail\n2027-05-01T06:00:00Z,A1,nose,\n2027-05-01T06:00:00Z,C1,mark,drained-full 3000 g\n2027-05-01T06:01:00Z,C1,mark,driest-allowed 2000 g 0 %\n")
	full := 97.0
	wa, wb, wc, sun := full, full, full, 0.0
	from, until := time.Date(2027, 5, 1, 0, 0, 0, 0, time.UTC), time.Date(2028, 7, 1, 0, 0, 0, 0, time.UTC)
	for at := from; at.Before(until); at = at.Add(time.Hour) {
		if at.Hour() == 0 {
			sun = 0.6*sun + 0.3*rng.NormFloat64()
		}
		day := math.Sin(2 * math.Pi * (at.Sub(from).Hours()/24 - 0.375))
		stamp := at.Format(time.RFC3339)
		fmt.Fprintf(&b, "%[1]s,air,%.2[2]f,Cel\n%[1]s,A1-t,%.2[3]f,Cel\n%[1]s,A1-m,%.1[4]f,%%\n", stamp, 14+4*day, 14+2*day, wa+0.5*rng.NormFloat64())
		if at.Before(time.Date(2027, 7, 10, 0, 0, 0, 0, time.UTC)) {
			fmt.Fprintf(&b, "%s,B1-m,%.1f,%%\n", stamp, wb+0.5*rng.NormFloat64())
		}
		if at.Hour() == 20 && at.YearDay()%2 == 0 && at.Before(time.Date(2027, 7, 10, 0, 0, 0, 0, time.UTC)) {
			fmt.Fprintf(&n, "%s,C1,weighed,%.0f g\n", at.Add(30*time.Minute).Format(time.RFC3339), 2000+10*wc)
		}
		air := math.Exp(sun) / 24
		wa, wb, wc = wa*math.Exp(-0.06*air), wb*math.Exp(-0.096*air), wc*math.Exp(-0.036*air)
		dry := at.Before(time.Date(2028, 6, 20, 0, 0, 0, 0, time.UTC)) // then nobody waters any more
		if at.Hour() == 9 && dry && (wb < 60 || wa < 60) {
			wa, wb, wc = full, full, full
			fmt.Fprintf(&n, "%s,wall,watered,500 mL\n", at.Add(10*time.Minute).Format(time.RFC3339))
		}
	}
	rows, bad, err := tape.ReadReadings("readings.csv", &b)
	if err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	notes, badNotes, err := tape.ReadNotes("notes.csv", &n)
	if err != nil || len(badNotes) > 0 {
		t.Fatal(err, badNotes)
	}
	var said []alerts.Change
	w, err := Rehearsal{Garden: g, Entries: tape.Entries(rows, g.Site.Every, notes), Said: func(c alerts.Change) error { said = append(said, c); return nil }}.Run()
	if err != nil {
		t.Fatal(err)
	}
	st := w.Standing()
	for _, c := range []struct {
		pot         string
		times, near float64
	}{{"B1", 1.6, 0.12}, {"C1", 0.6, 0.12}} {
		r, ok := st.DryRatio(c.pot, "A1")
		t.Logf("%s: %+v", c.pot, r)
		if !ok || math.Abs(r.Times/c.times-1) > c.near {
			t.Errorf("%s dries %.2f times as fast as A1 (%v), planted %.1f: %+v", c.pot, r.Times, ok, c.times, r)
		}
	}
	if r, ok := st.DryRatio("D1", "A1"); ok {
		t.Errorf("D1 was never measured: %+v", r)
	}
	last := kind(said, "water")
	if len(last) == 0 {
		t.Fatal("nobody was asked for water\n" + list(said))
	}
	if text := last[len(last)-1].Text; last[len(last)-1].At.Year() != 2028 || !strings.Contains(text, "Water A1 and the pots that dry like it (C1 and D1, not measured; look at B1 first)") {
		t.Error(last[len(last)-1].At, text)
	}
}
