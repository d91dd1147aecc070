package dashboards

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// The garden of these tests is invented: Lower Tansy Bank, a shelter and a shaded wall.
var (
	tansyZone = mustZone("Europe/London")
	tansyNow  = time.Date(2027, 1, 26, 14, 7, 0, 0, time.UTC)
)

func mustZone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

// tansyBank is an ordinary January afternoon.
func tansyBank() *alerts.Standing {
	g := &garden.Garden{
		Site: garden.Site{ID: "tansy", Name: "Lower Tansy Bank", Latitude: 52.4, Longitude: -2.1, Zone: tansyZone, Every: 5 * time.Minute},
		Places: []garden.Place{{ID: "shelter", Name: "Slatted shelter", Roof: true, Facing: "east"},
			{ID: "wall", Name: "Shaded wall", Shaded: true, Facing: "north"}},
	}
	st := &alerts.Standing{Garden: g, Cal: garden.Calendar{Zone: tansyZone}}
	for i := range 7 {
		addPot(st, i, "shelter", "dry-winter")
	}
	for i := range 5 {
		addPot(st, 7+i, "wall", "wet-winter")
	}
	for _, pl := range []string{"shelter", "wall"} {
		addProbe(st, garden.Probe{ID: sensors.ProbeID(pl + "-air"), Measures: garden.AirTemperature, Place: pl}, sensors.Reading{Raw: 3400, Step: units.Whole(units.Temperature)})
	}
	finish(st)
	st.Sentence = "Water B3 lightly today. Next is B1, in 12 to 19 days"
	st.Alerts = []alerts.Alert{
		{Kind: "frost-tonight", Subject: "wall", Place: "wall", Pots: []string{"W9"}, Rank: alerts.Tonight, Key: "k1", Since: tansyNow.Add(-time.Hour), Text: "W9 is opening and the wall may fall to −2 °C tonight. Put it under the shelter before dark and lay fleece over it."},
		{Kind: "water-light", Subject: "B3", Place: "shelter", Pots: []string{"B3"}, Rank: alerts.Week, Key: "k2", Since: tansyNow.Add(-5 * time.Hour), Text: "Water B3 lightly, about 150 mL, on a mild morning: it has been dry right through for three thawed days"},
		{Kind: "probe-check", Subject: "B6", Place: "shelter", Pots: []string{"B6"}, Rank: alerts.Week, Key: "k3", Since: tansyNow.Add(-50 * time.Hour), Text: "Lift B6 and say how it feels: its probe has not risen since the thaw", Seen: true},
	}
	st.Recent = []alerts.Change{{At: tansyNow.Add(-5 * time.Hour), Kind: "water-light", Text: st.Alerts[1].Text}, {At: tansyNow.Add(-300 * time.Hour), Kind: "root-cold", Text: "The roots of B2 fell under −3 °C. Nothing to do but note it: leave the pot where it is until it thaws"}}
	st.Reach = "messages stay on this board: no way out is configured yet"
	dressUp(st)
	return st
}

// addPot adds pot number i with a plant, a moisture probe and a thermometer.
func addPot(st *alerts.Standing, i int, place, regime string) {
	g := st.Garden
	letter := map[string]string{"shelter": "B", "wall": "W"}[place]
	id, plant := fmt.Sprintf("%s%d", letter, i+1), fmt.Sprintf("P%d", i+1)
	kinds := []string{"segawai", "franchetii", "henryi", "Tansy hybrid 4", "reginae", "kentuckiense", "parviflorum"}
	g.Plants = append(g.Plants, garden.Plant{ID: plant, Name: kinds[i%len(kinds)], Regime: regime, Earliness: garden.Earliness(1 + i%3), Tender: garden.Tender(1 + i%2)})
	g.Pots = append(g.Pots, garden.Pot{ID: id, Plant: plant, Place: place, Litres: 3000, Clay: i%3 == 0, Mix: "pumice and bark"})
	wet := 300 + int64(i*37%400)
	if regime == "wet-winter" {
		wet = 700 + int64(i*41%250)
	}
	addProbe(st, garden.Probe{ID: sensors.ProbeID(id + "-m"), Measures: garden.PotMoisture, Pot: id, Depth: "half depth"}, sensors.Reading{Raw: wet, Step: units.Whole(units.Moisture)})
	addProbe(st, garden.Probe{ID: sensors.ProbeID(id + "-t"), Measures: garden.PotTemperature, Pot: id}, sensors.Reading{Raw: 2900 + int64(i*100), Step: units.Whole(units.Temperature)})
}

func addProbe(st *alerts.Standing, p garden.Probe, r sensors.Reading) {
	r.Probe = p.ID
	st.Garden.Probes = append(st.Garden.Probes, p)
	st.Probes = append(st.Probes, alerts.ProbeStanding{Last: r, LastAt: tansyNow.Add(-2 * time.Minute), Spacing: 5 * time.Minute})
}

// finish folds the standing by hand: pointers last, when the slices no longer move.
func finish(st *alerts.Standing) {
	g := st.Garden
	st.At = tansyNow.Add(-2 * time.Minute)
	st.Day, st.Season = st.Cal.DateOf(st.At), st.Cal.Season(st.Cal.DateOf(st.At))
	for i := range g.Probes {
		st.Probes[i].Probe = &g.Probes[i]
	}
	for i := range g.Places {
		st.Places = append(st.Places, alerts.PlaceStanding{Place: &g.Places[i], Air: units.MilliCelsius(3400 - 900*i), AirAt: st.At, DayMin: -400, DayMax: 5200,
			Trend: alerts.Interval{Low: -0.6, High: -0.6, OK: true}, Expected: alerts.Interval{Low: -2.1 - float64(i), High: 0.4, OK: true}, ExpectedHow: "first-season guess",
			Offset: alerts.Interval{Low: 0.6, High: 1.0, OK: i == 0}, DegreeDays: alerts.Interval{Low: 61, High: 63, OK: true}, Observed: 0.99})
	}
	for i := range g.Pots {
		p := &g.Pots[i]
		plant := g.Plant(p.Plant)
		wet := st.Probes[2*i].Last.Whole()
		ps := alerts.PotStanding{Pot: p, Plant: plant, Place: p.Place, Regime: garden.RegimeNamed(plant.Regime), Temp: units.MilliCelsius(2900 + 100*i), TempAt: st.At, TempOwn: true,
			Wetness: units.PerMilleFull(wet), WetnessAt: st.At, WetnessOK: true, DaysLeft: alerts.Interval{Low: float64(10 + i), High: float64(15 + 2*i), OK: true},
			ColdCredit: alerts.Interval{Low: 66.1, High: 67, OK: true}, Cold: alerts.Enough, ColdStart: tansyNow.AddDate(0, -2, -20), Forcing: alerts.Interval{Low: 9, High: 9.4, OK: true},
			FreezeThaw: 3, Verdict: "nothing to do", BreakHow: "class guess", Break: [2]garden.Date{st.Day + 30 + garden.Date(10*plant.Earliness), st.Day + 60 + garden.Date(10*plant.Earliness)}}
		if p.Place == "wall" {
			ps.DaysLeft = alerts.Interval{Low: 70, High: 140, OK: true}
		}
		for d := garden.Date(59); d >= 0; d-- {
			ps.History = append(ps.History, alerts.DayPoint{Day: st.Day - d, Wet: ps.Wetness + units.PerMilleFull(4*(d%30)), WetOK: d > 20 || d < 12, Min: units.MilliCelsius(-2000 + 100*d), Max: units.MilliCelsius(1500 + 100*d), TempOK: true})
		}
		st.Pots = append(st.Pots, ps)
	}
}

// dressUp gives single pots what can happen to a pot.
func dressUp(st *alerts.Standing) {
	pot := func(i int) *alerts.PotStanding { return &st.Pots[i] }
	pot(0).DaysLeft = alerts.Interval{Low: 12, High: 19, OK: true}
	p := pot(1)
	p.Frozen, p.FrozenSince, p.WetnessAt, p.WetnessOK, p.Wetness, p.Snow = true, tansyNow.AddDate(0, 0, -12), tansyNow.AddDate(0, 0, -13), false, 500, true
	p = pot(2)
	p.Wetness, p.DrySince, p.DryDays, p.DaysLeft, p.Verdict = 160, tansyNow.AddDate(0, 0, -4), 4, alerts.Interval{OK: true}, "water lightly"
	st.Probes[2*3].LastAt, st.Probes[2*3].Silent = tansyNow.Add(-11*time.Hour), true
	pot(3).WetnessOK, pot(3).WetnessAt = false, tansyNow.Add(-11*time.Hour)
	pot(4).NeedsMarks = true
	pot(5).CheckProbe = tansyNow.AddDate(0, 0, -3)
	st.Probes[2*6].Quality, pot(6).Rough = sensors.Suspect, true
	pot(8).Stage = alerts.Opening
	pot(9).Regime = nil
	st.Garden.Pots[7].Relatives, st.Garden.Pots[7].Faster = []string{"W12"}, []string{"W11"}
	drop := func(id string) {
		for i := range st.Probes {
			if st.Probes[i].Probe.Pot == id && st.Probes[i].Probe.Measures == garden.PotMoisture {
				st.Probes = append(st.Probes[:i], st.Probes[i+1:]...)
				return
			}
		}
	}
	drop("W11")
	drop("W12")
}

// house stands in for the daemon: what it is told it keeps in memory.
type house struct {
	mu    sync.Mutex
	st    *alerts.Standing
	notes []sensors.Note
	fail  error
}

func (h *house) Standing() *alerts.Standing {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.st
}

func (h *house) set(st *alerts.Standing) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.st = st
}

func (h *house) TakeNote(_ context.Context, n sensors.Note) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.fail != nil {
		return h.fail
	}
	n.ID = fmt.Sprintf("n%d", len(h.notes)+1)
	h.notes = append(h.notes, n)
	if n.What == sensors.Seen && h.st != nil {
		st := *h.st
		st.Alerts = append([]alerts.Alert(nil), st.Alerts...)
		for i := range st.Alerts {
			if st.Alerts[i].Subject == n.Subject && st.Alerts[i].Kind == n.Detail {
				st.Alerts[i].Seen = true
			}
		}
		h.st = &st
	}
	return nil
}

func (h *house) Notes(_ context.Context, from, until time.Time) ([]sensors.Note, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	gone := map[string]bool{}
	for _, n := range h.notes {
		if n.What == sensors.Undo {
			gone[n.Detail] = true
		}
	}
	var out []sensors.Note
	for _, n := range h.notes {
		if !gone[n.ID] && !n.At.Before(from) && n.At.Before(until) {
			out = append(out, n)
		}
	}
	return out, nil
}

func (h *house) taken() []sensors.Note {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]sensors.Note(nil), h.notes...)
}

// open builds the pages over a standing; change may adjust the configuration.
func open(t testing.TB, st *alerts.Standing, change func(*Config)) (*Pages, *house) {
	t.Helper()
	h := &house{st: st}
	cfg := Config{Standings: h, Notes: h, NoteBook: h, Now: func() time.Time { return tansyNow }, Version: "test", Log: slog.New(slog.DiscardHandler), LiveEvery: 20 * time.Millisecond}
	if change != nil {
		change(&cfg)
	}
	p, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return p, h
}
