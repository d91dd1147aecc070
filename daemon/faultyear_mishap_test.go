package daemon

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"syscall"
	"time"

	"lathwatch/sensors"
)

// A mishap befalls the whole board for a while.
type mishap struct {
	row         string
	from, until time.Time
	begun, over bool
}

// mishapRows are the mishaps that are drawn: how often a month and for how long.
var mishapRows = []struct {
	row         string
	aMonth      float64
	short, long time.Duration
}{
	{"K1", 0.2, 4 * time.Minute, 3 * time.Hour},     // boots in the past, is set right after a while
	{"K2", 0.2, 10 * time.Minute, 55 * time.Minute}, // an hour back
	{"K4", 0.4, time.Hour, 10 * time.Hour},          // suspended
	{"D1", 0.2, 5 * time.Minute, 2 * time.Hour},     // power cut
	{"D5", 0.4, time.Hour, time.Hour},
	{"D6", 0.3, time.Hour, 30 * time.Hour},
	{"Q5", 0.4, 6 * time.Hour, 9 * aDay}, // nobody takes messages
}

func planMishaps(seed uint64, from, until time.Time, scale float64) (all []mishap) {
	dice := rand.New(rand.NewPCG(seed, 78))
	for _, k := range mishapRows {
		k.long = min(k.long, until.Sub(from)/6)
		for range max(1, int(k.aMonth*scale*until.Sub(from).Hours()/24/30)) {
			for range 50 {
				m := mishap{row: k.row, from: from.Add(time.Duration(dice.Float64() * float64(until.Sub(from)-2*k.long))).Truncate(time.Minute)}
				m.until = m.from.Add(k.short + time.Duration(dice.Float64()*float64(k.long-k.short)).Truncate(time.Minute))
				if !slices.ContainsFunc(all, func(o mishap) bool {
					return m.from.Before(o.until.Add(4*time.Hour)) && o.from.Before(m.until.Add(4*time.Hour)) && (m.row == o.row || m.row != "Q5" && o.row != "Q5")
				}) {
					all = append(all, m)
					break
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b mishap) int { return a.from.Compare(b.from) })
	return all
}

// mishap begins and ends what befalls the board.
func (f *faultYear) mishap() {
	for i := range f.mishaps {
		m := &f.mishaps[i]
		switch {
		case !m.begun && !f.now.Before(m.from) && f.now.Before(m.until):
			m.begun = true
			f.account.bent[m.row]++
			f.befall(m, true)
		case m.begun && !m.over && !f.now.Before(m.until):
			f.befall(m, false)
			m.over = true
		}
	}
}

func (f *faultYear) befall(m *mishap, on bool) {
	switch m.row {
	case "K1": // the journal is closed by the cut; the clock begins nine days back until the network sets it
		if on {
			f.restart()
			f.wrong, f.synced = -9*aDay, false
			f.boot()
		} else {
			f.wrong, f.synced = 0, true
		}
	case "K2":
		f.wrong = 0
		if on {
			f.wrong = -time.Hour
		}
	case "K4":
		f.off = on
	case "D1":
		f.off = on
		if on {
			f.restart()
		} else {
			f.boot()
		}
	case "D5", "D6":
		rc := int32(cardWell)
		if on {
			rc = map[string]int32{"D5": cardFull, "D6": cardReadOnly}[m.row]
		}
		card.refuse.Store(rc)
	case "Q5":
		f.busy = on
	}
}

// restart ends the daemon as far as the journal is concerned; what it held in memory is gone.
func (f *faultYear) restart() {
	f.collect()
	if err := f.d.Close(); err != nil {
		f.t.Error(err)
	}
	f.booted = f.now
}

// spoil makes a round of what sick probes say of it.
func (f *faultYear) spoil(sound sensors.Round) sensors.Round {
	for len(f.sick) > 0 && !f.sick[0].from.After(f.now) {
		if a := f.sick[0]; a.row == "A6" { // the keeper writes the feed down, as a keeper should
			f.note(sensors.Note{At: f.now, Subject: f.probes[a.slots[0]].Pot, What: sensors.Fed})
		}
		f.active, f.sick = append(f.active, f.sick[0]), f.sick[1:]
	}
	f.active = slices.DeleteFunc(f.active, func(a *ailment) bool { return !a.until.After(f.now) })
	r := sensors.Round{At: sound.At, Readings: slices.Clone(sound.Readings), Faults: slices.Clone(sound.Faults)}
	if len(f.active) == 0 {
		return r
	}
	s := &sickRound{at: f.now, probes: f.probes, sound: make([]sensors.Reading, len(f.probes)), there: make([]bool, len(f.probes))}
	place := f.slots(s, sound.Readings)
	gone := map[int]sensors.FaultKind{}
	for _, a := range f.active {
		for _, slot := range a.slots {
			if i := place[slot]; i >= 0 && gone[slot] == 0 {
				was := r.Readings[i]
				k := a.bend(s, a, slot, &r.Readings[i])
				if k != 0 {
					gone[slot] = k
				}
				if k != 0 || r.Readings[i] != was {
					f.account.bent[a.row]++
				}
			}
		}
	}
	kept := r.Readings[:0]
	for slot := range place {
		switch k := gone[slot]; {
		case place[slot] < 0:
		case k == 0:
			kept = append(kept, r.Readings[place[slot]])
		default:
			if k == sensors.Silent {
				f.log(slot, r.Readings[place[slot]])
			}
			r.Faults = append(r.Faults, sensors.Fault{Probe: f.probes[slot].ID, Kind: k, Why: k.String()})
		}
	}
	r.Readings = kept
	slices.SortFunc(r.Faults, func(a, b sensors.Fault) int { return cmp.Compare(a.Probe, b.Probe) })
	return r
}

// slots finds where each probe stands in a round.
func (f *faultYear) slots(s *sickRound, rs []sensors.Reading) []int {
	place := make([]int, len(f.probes))
	k := 0
	for i := range f.probes {
		place[i] = -1
		if k < len(rs) && rs[k].Probe == f.probes[i].ID {
			place[i], s.sound[i], s.there[i] = k, rs[k], true
			k++
		}
	}
	return place
}

// log is a probe's own store, of probes that lost their way to us (Q15) but not their power.
func (f *faultYear) log(slot int, r sensors.Reading) {
	for _, a := range f.active {
		if a.row == "Q3" && slices.Contains(a.slots, slot) {
			key := fmt.Sprint(a.number)
			f.logged[key] = append(f.logged[key], sensors.LateReading{At: f.now, Reading: r})
		}
	}
}

// late gives what such probes deliver when they are heard again: all at once, and the next round once more.
func (f *faultYear) late() (all []*sensors.Late) {
	for _, key := range slices.Sorted(maps.Keys(f.logged)) {
		rs := f.logged[key]
		if f.wrong != 0 || rs[len(rs)-1].At.After(f.now.Add(-2*f.garden.Site.Every)) {
			continue
		}
		slices.SortStableFunc(rs, func(a, b sensors.LateReading) int { return a.At.Compare(b.At) })
		l := &sensors.Late{ID: key, Readings: rs}
		all = append(all, l, l)
		for _, r := range AdmitLate(f.garden, *l).Readings {
			f.account.handed(r.At, []sensors.Reading{r.Reading})
		}
		delete(f.logged, key)
	}
	return all
}

// chores are the journal's own night's work.
func (f *faultYear) chores() {
	at := f.now.In(f.garden.Site.Zone)
	if f.off || at.Hour() != 3 || at.Minute() != 30 || f.now.Second() != 0 {
		return
	}
	begin := cpuTime()
	f.d.backup(context.Background())
	f.account.nights += cpuTime() - begin
}

func cpuTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
