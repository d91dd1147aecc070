package daemon

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/daemon/config"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// BenchmarkReplay walks a season of 20 probes at five minutes through fold and Judge, with rounds that need no decoding: what a
// start costs beyond reading its own file.
func BenchmarkReplay(b *testing.B) {
	const days = 243 // September to April
	g := benchGarden(b)
	rounds := benchRounds(g, time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC), days)
	readings := 0
	for i := range rounds {
		readings += len(rounds[i].Readings)
	}
	decoded, started := benchDecode(b, g, rounds, readings)
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		w := NewWalk()
		if err := w.Fix(rounds[0].At, g); err != nil {
			b.Fatal(err)
		}
		for i := range rounds {
			if _, err := w.Take(sensors.Entry{At: rounds[i].At, Round: &rounds[i]}); err != nil {
				b.Fatal(err)
			}
		}
	}
	took := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(float64(len(rounds))/took, "rounds/s")
	b.ReportMetric(float64(readings)/took, "readings/s")
	b.ReportMetric(float64(readings)/took/decoded, "of-decode")
	b.ReportMetric(started, "start-s")
}

// benchDecode keeps the rounds in a journal and gives two peers of the same run: how many readings a second are decoded alone,
// and how many seconds a start takes that reads this season from its file and walks it.
func benchDecode(b *testing.B, g *garden.Garden, rounds []sensors.Round, readings int) (perSecond, start float64) {
	b.Helper()
	ctx := context.Background()
	j, err := journal.Open(filepath.Join(b.TempDir(), "bench.journal"), journal.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer j.Close()
	for i := 0; i < len(rounds); i += 288 {
		kept := make([]journal.Kept, 288)
		for k := range kept {
			kept[k].Round = rounds[i+k]
		}
		if err := j.KeepAll(ctx, kept); err != nil {
			b.Fatal(err)
		}
	}
	began := time.Now()
	n := 0
	for i := range g.Probes {
		for part, err := range j.ProbeReadings(ctx, g.Probes[i].ID, time.Time{}, time.Time{}) {
			if err != nil {
				b.Fatal(err)
			}
			n += len(part.Raw)
		}
	}
	perSecond = float64(n) / time.Since(began).Seconds()
	if n != readings {
		b.Fatalf("%d of %d readings came back", n, readings)
	}
	began = time.Now()
	w := NewWalk()
	if err := w.Fix(rounds[0].At, g); err != nil {
		b.Fatal(err)
	}
	for e, err := range j.Entries(ctx, time.Time{}, time.Time{}) {
		if err == nil {
			_, err = w.Take(e)
		}
		if err != nil {
			b.Fatal(err)
		}
	}
	return perSecond, time.Since(began).Seconds()
}

// benchGarden has two places with air and humidity and eight pots with temperature and moisture.
func benchGarden(b *testing.B) *garden.Garden {
	b.Helper()
	var s strings.Builder
	s.WriteString("[site]\nid = \"bench\"\nlatitude = 52.0\nlongitude = 8.0\nzone = \"Europe/Berlin\"\n" +
		"[[place]]\nid = \"table\"\nroof = true\n[[place]]\nid = \"wall\"\nshaded = true\n" +
		"[[plant]]\nid = \"hybrid\"\nregime = \"dry-winter\"\nearliness = \"middle\"\n" +
		"[[plant]]\nid = \"reginae\"\nregime = \"wet-winter\"\nearliness = \"late\"\n")
	for _, p := range []string{"table", "wall"} {
		fmt.Fprintf(&s, "[[probe]]\nid = \"%s-air\"\nmeasures = \"air-temperature\"\nplace = \"%s\"\n", p, p)
		fmt.Fprintf(&s, "[[probe]]\nid = \"%s-h\"\nmeasures = \"air-humidity\"\nplace = \"%s\"\n", p, p)
	}
	for i := range 8 {
		plant, place := "hybrid", "table"
		if i >= 4 {
			plant, place = "reginae", "wall"
		}
		fmt.Fprintf(&s, "[[pot]]\nid = \"P%d\"\nplant = \"%s\"\nplace = \"%s\"\nvolume = \"3 L\"\n", i, plant, place)
		fmt.Fprintf(&s, "[[probe]]\nid = \"P%d-m\"\nmeasures = \"pot-moisture\"\npot = \"P%d\"\nunit = \"%%\"\n", i, i)
		fmt.Fprintf(&s, "[[probe]]\nid = \"P%d-t\"\nmeasures = \"pot-temperature\"\npot = \"P%d\"\n", i, i)
	}
	g, err := config.Parse("garden.toml", []byte(s.String()))
	if err != nil {
		b.Fatal(err)
	}
	return g
}

// benchRounds is a made winter: a yearly and a daily wave, pots that lag and damp the air.
func benchRounds(g *garden.Garden, from time.Time, days int) []sensors.Round {
	rounds := make([]sensors.Round, days*288)
	for i := range rounds {
		at := from.Add(time.Duration(i) * 5 * time.Minute)
		day := float64(i) / 288
		season := 8 - 10*math.Sin(math.Pi*min(day, 300)/300) + 3*math.Sin(day*0.7)
		wave := math.Sin(2 * math.Pi * (day - 0.375))
		r := &rounds[i]
		r.At = at
		for k := range g.Probes {
			p := &g.Probes[k]
			v, u := 0.0, units.Temperature
			switch p.Measures {
			case garden.AirTemperature:
				v = 1000 * (season + 4*wave)
			case garden.AirHumidity:
				v, u = 850-100*wave, units.Humidity
			case garden.PotTemperature:
				v = 1000*(season+2*math.Sin(2*math.Pi*(day-0.5))) + float64(10*k)
			case garden.PotMoisture:
				v, u = 420+100*math.Sin(day/9), units.Moisture
			}
			r.Readings = append(r.Readings, sensors.Reading{Probe: p.ID, Raw: int64(v), Step: units.Step{Unit: u, Num: 1, Den: 1}})
		}
	}
	return rounds
}
