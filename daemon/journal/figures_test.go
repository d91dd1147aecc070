package journal

import (
	"database/sql/driver"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"lathwatch/sensors"
)

// A figure is a seeded series like those measured in a shaded garden: air and pot temperatures in sixteenths of a degree, moisture
// as 16-bit counts with converter noise, a drying curve, watering jumps and temperature coupling; short gaps.
type figure struct {
	id    sensors.ProbeID
	noise float64
	moist bool
	rng   *rand.Rand
	level float64
	gap   int
}

func figures(n int) []*figure {
	fs := make([]*figure, n)
	for i := range fs {
		f := &figure{id: sensors.ProbeID(fmt.Sprintf("p%02d", i)), rng: rand.New(rand.NewPCG(2026, uint64(i)))}
		switch {
		case i < n/5:
			f.noise = 0.06
		case i < n*3/5:
			f.noise = 0.02
		default:
			f.moist, f.noise, f.level = true, 12, 30000
			if i%2 == 1 {
				f.noise = 40
			}
		}
		fs[i] = f
	}
	return fs
}

// at gives the raw count of minute m since the year's start.
func (f *figure) at(m int) (raw int64, ok bool) {
	if f.gap > 0 {
		f.gap--
		return 0, false
	}
	if f.rng.Float64() < 0.0006 {
		f.gap = f.rng.IntN(9)
	}
	h := float64(m) / 60
	air := 9 - 9*math.Cos(2*math.Pi*h/8766) + 4*math.Sin(2*math.Pi*(h-9)/24) + 2.5*math.Sin(h/37) + 1.2*math.Sin(h/11.3)
	if !f.moist {
		if f.noise < 0.05 {
			air = 9 - 9*math.Cos(2*math.Pi*h/8766) + 1.5*math.Sin(2*math.Pi*(h-12)/24) + 2*math.Sin(h/41)
		}
		return int64(math.Round((air + f.noise*f.rng.NormFloat64()) * 16)), true
	}
	f.level -= 0.03 + 0.05*math.Max(0, air)/20
	if f.level < 24000+f.rng.Float64()*500 {
		f.level = 30000
	}
	return int64(math.Round(f.level + 8*air + f.noise*f.rng.NormFloat64())), true
}

var figureStart = time.Date(2025, 9, 1, 0, 0, 0, 0, time.UTC)

// figureDay makes the rounds of one day.
func figureDay(fs []*figure, day int) []Kept {
	ks := make([]Kept, 1440)
	for m := range ks {
		r := &ks[m].Round
		r.At = figureStart.Add(time.Duration(day*1440+m) * time.Minute)
		r.Readings = make([]sensors.Reading, 0, len(fs))
		for _, f := range fs {
			raw, ok := f.at(day*1440 + m)
			if !ok {
				continue
			}
			step := sixteenth
			if f.moist {
				step = counts
			}
			r.Readings = append(r.Readings, sensors.Reading{Probe: f.id, Raw: raw, Step: step})
		}
	}
	return ks
}

func TestProbeFigures(t *testing.T) {
	fs := figures(20)
	path := filepath.Join(dir(t), "f.journal")
	j := open(t, path, Options{})
	start := time.Now()
	var gen time.Duration
	n := 0
	for day := range 60 {
		g := time.Now()
		ks := figureDay(fs, day)
		gen += time.Since(g)
		for i := range ks {
			n += len(ks[i].Round.Readings)
		}
		if err := j.KeepAll(bg, ks); err != nil {
			t.Fatal(err)
		}
	}
	ingest := time.Since(start) - gen
	_ = j.c.script("pragma wal_checkpoint(TRUNCATE)")
	h, _ := j.Health(bg)
	blob, _, _ := j.c.number("select sum(length(b)) from block")
	t.Logf("gen %v ingest %v %.2f M/s; file %.3f B/reading, blobs %.3f", gen, ingest, float64(n)/ingest.Seconds()/1e6, float64(h.Size)/float64(n), float64(blob)/float64(n))
	j.c.query("select k & 1048575, sum(length(b)) from block group by 1", func(row []driver.Value) error {
		t.Logf("series %d %.3f", row[0], float64(row[1].(int64))/60/1440)
		return nil
	})
	start = time.Now()
	c := 0
	for e, err := range j.Entries(bg, time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		c += len(e.Round.Readings)
	}
	d := time.Since(start)
	t.Logf("replay %d in %v %.1f M/s", c, d, float64(c)/d.Seconds()/1e6)
	start = time.Now()
	c = 0
	for range 300 {
		for s := range j.ProbeReadings(bg, "p15", time.Time{}, time.Time{}) {
			c += len(s.At)
		}
	}
	d = time.Since(start)
	t.Logf("scan %d in %v %.1f M/s", c, d, float64(c)/d.Seconds()/1e6)
}
