package daemon

import (
	"bytes"
	"fmt"
	"math"
	"testing"
	"time"

	"lathwatch/daemon/config"
	"lathwatch/sensors/tape"
)

const carriedGarden = `
[site]
id = "kessel"
latitude = 51.0
longitude = 9.0
zone = "Europe/Berlin"
[[place]]
id = "table"
roof = true
[[place]]
id = "wall"
[[plant]]
id = "hybrid"
regime = "dry-winter"
[[pot]]
id = "ledger"
plant = "hybrid"
place = "table"
volume = "3 L"
[[pot]]
id = "carried"
plant = "hybrid"
place = "table"
volume = "3 L"
[[probe]]
id = "table-air"
measures = "air-temperature"
place = "table"
[[probe]]
id = "wall-air"
measures = "air-temperature"
place = "wall"
[[probe]]
id = "carried-t"
measures = "pot-temperature"
pot = "carried"
`

// A pot without a thermometer has the air of where it stands for its own, by the ledger. Moved in the middle of a day, its sums
// are those of a probe that was carried with it, within 3 %.
func TestAMoveAtMiddayEqualsACarriedProbe(t *testing.T) {
	g, err := config.Parse("garden.toml", []byte(carriedGarden))
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)
	move := time.Date(2027, 3, 10, 11, 0, 0, 0, time.UTC)
	until := time.Date(2027, 4, 20, 0, 0, 0, 0, time.UTC)
	var b bytes.Buffer
	b.WriteString("time,probe,value,unit\n")
	for at := from; at.Before(until); at = at.Add(10 * time.Minute) {
		day := at.Sub(from).Hours() / 24
		table := 4 + 5*math.Sin(2*math.Pi*(day-30)/180) + 10*max(0, day-120)/50 + 4*math.Sin(2*math.Pi*(day-0.375))
		wall := table - 2 + math.Cos(2*math.Pi*day)
		own := table
		if !at.Before(move) {
			own = wall
		}
		fmt.Fprintf(&b, "%[1]s,table-air,%.2[2]f,Cel\n%[1]s,wall-air,%.2[3]f,Cel\n%[1]s,carried-t,%.2[4]f,Cel\n", at.Format(time.RFC3339), table, wall, own)
	}
	rows, bad, err := tape.ReadReadings("readings.csv", &b)
	if err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	notes, _, err := tape.ReadNotes("notes.csv", bytes.NewReader([]byte("time,subject,what,detail\n"+
		move.Format(time.RFC3339)+",ledger,moved,wall\n"+move.Format(time.RFC3339)+",carried,moved,wall\n")))
	if err != nil {
		t.Fatal(err)
	}
	w, err := Rehearsal{Garden: g, Entries: tape.Entries(rows, g.Site.Every, notes)}.Run()
	if err != nil {
		t.Fatal(err)
	}
	pots := w.Standing().Pots
	for _, c := range []struct {
		what          string
		ledger, probe float64
		least         float64
	}{
		{"cold credit", pots[0].ColdCredit.Low, pots[1].ColdCredit.Low, 30},
		{"forcing", pots[0].Forcing.Low, pots[1].Forcing.Low, 10},
	} {
		t.Logf("%s: %.2f by the ledger, %.2f carried", c.what, c.ledger, c.probe)
		if c.probe < c.least || math.Abs(c.ledger-c.probe) > 0.03*c.probe {
			t.Errorf("%s: %.2f by the ledger, %.2f by the carried probe", c.what, c.ledger, c.probe)
		}
	}
}
