package daemon

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

const aDay = 24 * time.Hour

// maladies are the rows of the field log that can reach our code as readings, each with how long it lasts.
func maladies() []malady {
	const m, h = time.Minute, time.Hour
	return []malady{
		{"W1", thermometer, 0, m, 15 * m, says(85_000)},
		{"W1", thermometer, 20, m, 2 * m, says(85_000)}, // a dip of the supply
		{"W2", thermometer, 3, 10 * m, 2 * aDay, says(127_937)},
		{"W3", potTherm, 0, h, 4 * aDay, says(0)}, // where only the bare number comes through
		{"W3", airTherm, 0, h, 2 * aDay, says(0)},
		{"W3", thermometer, 8, h, 12 * h, says(0)}, // a bus shorted to ground
		{"W5", thermometer, 0, m, 2 * h, fails(sensors.Garbled, 0.7)},
		{"W6", thermometer, 0, 10 * m, aDay, fails(sensors.Garbled, 1)},
		{"W7", anyProbe, 0, 20 * m, 5 * aDay, fails(sensors.Silent, 1)},
		{"W11", thermometer, 0, 3 * aDay, 20 * aDay, more(1000, 2000)},
		{"W13", thermometer, 0, 40 * m, 2 * h, same},
		{"W14", anyProbe, 6, 10 * m, 12 * h, fails(sensors.Silent, 1)},
		{"B1", thermometer, 0, 6 * h, 5 * aDay, flip},
		{"B1", water, 0, 6 * h, 5 * aDay, flip},
		{"B1", damp, 0, 6 * h, 5 * aDay, flip},
		{"B3", anyProbe, 0, 35 * m, 12 * h, fails(sensors.Silent, 1)},
		{"B4", anyProbe, 20, h, 2 * aDay, fails(sensors.Silent, 1)},
		{"B5", inVolts, 2, h, 2 * aDay, stolen},
		{"B5", inVolts, 0, aDay, 12 * aDay, open},
		{"T2", damp, 0, 6 * h, 12 * aDay, says(860)},
		{"T4", airTherm, 0, h, 2 * aDay, says(-140_790)},
		{"T4", airTherm, 0, h, 2 * aDay, says(187_040)},
		{"T5", damp, 0, aDay, 20 * aDay, says(0)},
		{"T5", damp, 0, aDay, 20 * aDay, same},
		{"T8", airTherm, 0, 2 * aDay, 20 * aDay, more(1000, 5000)},
		{"T9", measures(garden.AirTemperature, garden.AirHumidity), -1, m, 30 * m, heater},
		{"T10", thermometer, 0, aDay, 10 * aDay, sign},
		{"T11", thermometer, 0, 10 * m, aDay, says(-273_150)},
		{"T13", thermometer, 0, 10 * m, aDay, scaled(1000, 1)},
		{"T15", airTherm, 0, h, 5 * aDay, fails(sensors.Silent, 0.6)},
		{"A1", water, 2, h, 4 * aDay, swapped},
		{"A2", inCounts, 0, h, 10 * aDay, scaled(1, 30)},
		{"A6", water, 0, 7 * aDay, 7 * aDay, wetter(60)},
		{"A7", water, 0, 10 * m, aDay, wetter(-550)},
		{"M1", measures(garden.PotMoisture, garden.PotTemperature), -1, 10 * m, 2 * aDay, shifted},
		{"M2", anyProbe, 4, h, 5 * aDay, fails(sensors.Silent, 0.7)},
		{"M6", anyProbe, 2, h, aDay, fails(sensors.Garbled, 1)},
		{"M7", anyProbe, 5, h, 3 * aDay, fails(sensors.Silent, 1)},
		{"M10", anyProbe, 2, h, aDay, fails(sensors.Garbled, 0.8)},
		{"Q3", anyProbe, 3, 6 * h, 2 * aDay, fails(sensors.Silent, 1)},
		{"Q10", anyProbe, 0, 6 * h, 2 * aDay, fails(sensors.Silent, 1)}, // a retained value is told as silence, with the last known
		{"Q12", anyProbe, 0, h, 2 * aDay, fails(sensors.Garbled, 1)},
		{"Q13", anyProbe, 0, h, 2 * aDay, fails(sensors.Garbled, 0.5)},
		{"still", thermometer, 0, 6 * h, 10 * aDay, same},
		{"still", water, 0, 12 * h, 10 * aDay, same},
	}
}

// plan draws ailments for a span: every malady so often a month. A pot or place has one ailment of its own at a time; a fault of a
// whole bus may come on top. None is shorter than three rounds.
func plan(seed uint64, probes []garden.Probe, from, until time.Time, aMonth float64, every time.Duration) []*ailment {
	dice := rand.New(rand.NewPCG(seed, 77))
	where := func(p *garden.Probe) string { return p.Pot + "/" + p.Place }
	busy := map[string][]*ailment{}
	var all []*ailment
	kinds := maladies()
	for i := range kinds {
		k := &kinds[i]
		n := max(1, int(math.Round(aMonth*until.Sub(from).Hours()/24/30)))
		for range n {
			for range 40 { // tries
				a := &ailment{malady: k, number: len(all), held: map[int]int64{}, size: dice.Float64()}
				lasts := time.Duration(float64(k.short) * math.Pow(float64(k.long)/float64(k.short), dice.Float64()))
				lasts = min(max(lasts, 3*every), until.Sub(from)/4)
				a.from = from.Add(time.Duration(dice.Float64() * float64(until.Sub(from)-lasts))).Truncate(time.Minute)
				a.until = a.from.Add(max(lasts.Truncate(time.Minute), time.Minute))
				a.slots = k.pick(dice, probes)
				if k.group <= 0 || k.group == 2 {
					if slices.ContainsFunc(a.slots, func(s int) bool { return overlaps(busy[where(&probes[s])], a) }) {
						continue
					}
					for _, s := range a.slots {
						busy[where(&probes[s])] = append(busy[where(&probes[s])], a)
					}
				}
				all = append(all, a)
				break
			}
		}
	}
	slices.SortStableFunc(all, func(a, b *ailment) int { return a.from.Compare(b.from) })
	return all
}

func overlaps(others []*ailment, a *ailment) bool {
	return slices.ContainsFunc(others, func(o *ailment) bool { return a.from.Before(o.until.Add(2*aDay)) && o.from.Before(a.until.Add(2*aDay)) })
}

// pick draws the probes: one, a run of neighbours on one bus, or all that a pot or place has of the kind.
func (k *malady) pick(dice *rand.Rand, probes []garden.Probe) (slots []int) {
	var can []int
	for i := range probes {
		if k.of(&probes[i]) {
			can = append(can, i)
		}
	}
	first := dice.IntN(len(can))
	if k.group < 0 {
		p := &probes[can[first]]
		for _, i := range can {
			if probes[i].Pot == p.Pot && probes[i].Place == p.Place {
				slots = append(slots, i)
			}
		}
		return slots
	}
	for n := range min(max(k.group, 1), len(can)) {
		slots = append(slots, can[(first+n)%len(can)])
	}
	slices.Sort(slots)
	return slots
}
