package daemon

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// loadGarden is the text of a garden of 20 probes: two places with air and humidity, eight pots with temperature and moisture, a
// page and the broker inside, both on loopback. Its chips are those of loadTree.
func loadGarden(every string) string {
	var s strings.Builder
	fmt.Fprintf(&s, "[site]\nid = \"sallow-mere\"\nlatitude = 52.0\nlongitude = 8.0\nzone = \"Europe/Berlin\"\nclock = \"trust\"\nevery = %q\n", every)
	s.WriteString("[page]\nlisten = \"127.0.0.1:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n" +
		"[[place]]\nid = \"table\"\nroof = true\n[[place]]\nid = \"wall\"\nshaded = true\n" +
		"[[plant]]\nid = \"hybrid\"\nregime = \"dry-winter\"\nearliness = \"middle\"\n" +
		"[[plant]]\nid = \"reginae\"\nregime = \"wet-winter\"\nearliness = \"late\"\n")
	for i, p := range []string{"table", "wall"} {
		fmt.Fprintf(&s, "[[probe]]\nid = \"%s-air\"\nmeasures = \"air-temperature\"\nplace = %q\n[probe.w1]\nid = %q\n", p, p, loadChip(8+i))
		fmt.Fprintf(&s, "[[probe]]\nid = \"%s-h\"\nmeasures = \"air-humidity\"\nplace = %q\n[probe.iio]\nname = \"hdc1000\"\nlabel = %q\nchannel = \"humidityrelative\"\n", p, p, p)
	}
	for i := range 8 {
		plant, place := "hybrid", "table"
		if i >= 4 {
			plant, place = "reginae", "wall"
		}
		fmt.Fprintf(&s, "[[pot]]\nid = \"P%d\"\nplant = %q\nplace = %q\nvolume = \"3 L\"\n", i, plant, place)
		fmt.Fprintf(&s, "[[probe]]\nid = \"P%d-t\"\nmeasures = \"pot-temperature\"\npot = \"P%d\"\n[probe.w1]\nid = %q\n", i, i, loadChip(i))
		fmt.Fprintf(&s, "[[probe]]\nid = \"P%d-m\"\nmeasures = \"pot-moisture\"\npot = \"P%d\"\nunit = \"V\"\ndrained-full = \"1.2 V\"\ndriest-allowed = \"2.4 V\"\n", i, i)
		fmt.Fprintf(&s, "[probe.iio]\nname = \"ads1015\"\nlabel = \"%s\"\nchannel = \"voltage%d\"\n", []string{"front", "back"}[i/4], i%4)
	}
	return s.String()
}

func loadChip(i int) string { return fmt.Sprintf("28-%012x", 0xab0+i) }

// The steps in which those chips count.
var (
	loadSixteenth = units.Step{Unit: units.Temperature, Num: 125, Den: 2}
	loadHundred   = units.Step{Unit: units.Humidity, Num: 1, Den: 10}
	loadCount     = units.Step{Unit: units.Voltage, Num: 375, Den: 2} // microvolts
)

// loadYears are made years of that garden: a yearly and a daily wave, pots that lag behind and damp the air, pots that dry and are
// watered, and noise as such chips have it.
type loadYears struct {
	from  time.Time
	every time.Duration
	rng   *rand.Rand
}

// day gives the rounds of one day.
func (y *loadYears) day(n int) []journal.Kept {
	ks := make([]journal.Kept, int(24*time.Hour/y.every))
	for i := range ks {
		at := y.from.AddDate(0, 0, n).Add(time.Duration(i) * y.every)
		ks[i].Round = y.round(at)
	}
	return ks
}

func (y *loadYears) round(at time.Time) sensors.Round {
	day := float64(at.Unix()) / 86400
	season := 9 - 10*math.Cos(2*math.Pi*(day-15)/365.25) + 3*math.Sin(day*0.7)
	r := sensors.Round{At: at, Readings: make([]sensors.Reading, 0, 20)}
	put := func(id string, step units.Step, v, noise float64) {
		r.Readings = append(r.Readings, sensors.Reading{Probe: sensors.ProbeID(id), Raw: int64(math.Round(v + noise*y.rng.NormFloat64())), Step: step})
	}
	for i := range 8 { // in order of probe, as rounds come
		dry := math.Mod(day+3*float64(i), 24) / 24
		put(loadPots[i].m, loadCount, 6400+5000*dry+10*season, 12)
		put(loadPots[i].t, loadSixteenth, 16*(season+1.5*math.Sin(2*math.Pi*(day-0.5)))+float64(i), 0.3)
	}
	for _, p := range []string{"table", "wall"} {
		put(p+"-air", loadSixteenth, 16*(season+4*math.Sin(2*math.Pi*(day-0.375))), 1)
		put(p+"-h", loadHundred, 8000-1000*math.Sin(2*math.Pi*(day-0.375)), 30)
	}
	return r
}

var loadPots = func() (ids [8]struct{ m, t string }) {
	for i := range ids {
		ids[i].m, ids[i].t = fmt.Sprintf("P%d-m", i), fmt.Sprintf("P%d-t", i)
	}
	return ids
}()

// loadDays is ten years.
const loadDays = 3652

// loadDecade fills a journal with so many days before an instant (midnight UTC) and gives how many rounds it holds.
func loadDecade(t testing.TB, path, text string, every time.Duration, days int, until time.Time) (rounds int) {
	t.Helper()
	j, err := journal.Open(path, journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	y := &loadYears{from: until.AddDate(0, 0, -days), every: every, rng: rand.New(rand.NewPCG(10, 20))}
	if err := j.AddGarden(t.Context(), y.from, text); err != nil {
		t.Fatal(err)
	}
	for n := range days {
		ks := y.day(n)
		rounds += len(ks)
		if err := j.KeepAll(t.Context(), ks); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return rounds
}
