package dashboards

import (
	"fmt"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// potView is a pot as it stands on a bench.
type potView struct {
	ID, Name string
	Left     string   // above the pot: days of water left, or why nobody can say
	Reading  string   // on its plate: share of drained-full, "" when unknown
	Level    int      // how full between the pot's own limits, 0 to 100; -1 unknown
	State    string   // ok, today, dry, frozen, silent, suspect, ask, none
	Snow     bool     // lying under snow
	Lines    []string // beneath: what is odd, the stage, regime and class
	Clay     bool
	Old      bool // the reading is the last that could be judged
}

// Water is the outline of the water in the drawn pot: "" when the level is not known.
func (v *potView) Water() string {
	if v.Level < 0 {
		return ""
	}
	y := 55 - 41*float64(v.Level)/100
	half := 18 + 6*float64(v.Level)/100
	return fmt.Sprintf("M14 55L%.1f %.1fH%.1fL50 55Z", 32-half, y, 32+half)
}

// bench gathers what all pots share, worked out once a page.
type bench struct {
	speech
	st      *alerts.Standing
	due     map[string]bool   // pots an alert asks water for
	speaker map[string]string // pot without a probe -> the pot that speaks for it
	faster  map[string]bool   // dries faster than its speaker
}

func newBench(st *alerts.Standing, now time.Time) *bench {
	b := &bench{speech: speak(st, now), st: st, due: map[string]bool{}, speaker: map[string]string{}, faster: map[string]bool{}}
	for _, a := range st.Alerts {
		if a.Kind == "water" || a.Kind == "water-light" {
			for _, id := range a.Pots {
				b.due[id] = !st.Quenched(id, a.Since)
			}
		}
	}
	for i := range st.Pots {
		p := st.Pots[i].Pot
		for _, id := range p.Relatives {
			b.speaker[id] = p.ID
		}
		for _, id := range p.Faster {
			b.speaker[id], b.faster[id] = p.ID, true
		}
	}
	return b
}

func (b *bench) pot(ps *alerts.PotStanding) potView {
	v := potView{ID: ps.Pot.ID, Clay: ps.Pot.Clay, Level: -1, Snow: ps.Snow, State: "ok"}
	if ps.Plant != nil {
		v.Name = ps.Plant.Name
	}
	if !ps.WetnessAt.IsZero() {
		v.Reading, v.Level, v.Old = percent(int64(ps.Wetness)), level(ps), !ps.WetnessOK
	}
	b.judge(&v, ps)
	if b.due[v.ID] {
		v.Left, v.State = "today", "today"
	}
	if ps.Elsewhere != "" {
		v.Lines = append(v.Lines, "moved? its nights follow: "+b.placeNamed(ps.Elsewhere))
	}
	if ps.Overdue {
		v.Lines = append(v.Lines, "late to rise: wait, it may still come")
	}
	if ps.Snow {
		v.Lines = append(v.Lines, "under snow: leave it")
	}
	if ps.Stage != alerts.Closed {
		v.Lines = append(v.Lines, ps.Stage.Words())
	}
	if w := b.kindWords(ps); w != "" {
		v.Lines = append(v.Lines, w)
	}
	return v
}

// judge says how much water is left, or the first reason why that cannot be said.
func (b *bench) judge(v *potView, ps *alerts.PotStanding) {
	trouble, since := potTrouble(b.st, v.ID)
	wet := potProbes(b.st, v.ID, garden.PotMoisture)
	switch {
	case ps.Frozen:
		v.State, v.Left = "frozen", "frozen"
		v.Lines = append(v.Lines, "since "+b.day(ps.FrozenSince)+b.lastKnown(ps))
	case trouble != "":
		v.State, v.Left = "silent", trouble
		v.Lines = append(v.Lines, b.troubleSince(trouble, since)+b.lastKnown(ps))
	case !ps.ProbeOut.IsZero():
		v.State, v.Left = "suspect", "probe out?"
		v.Lines = append(v.Lines, "in open air since "+b.when(ps.ProbeOut))
	case len(wet) == 0:
		b.withoutProbe(v)
	case !ps.CheckProbe.IsZero():
		v.State, v.Left = "suspect", "check probe"
		v.Lines = append(v.Lines, "no rise since the thaw")
	case ps.NeedsMarks:
		v.State, v.Left, v.Reading, v.Level = "ask", "needs marks", "", -1
	case ps.Regime == nil:
		v.State, v.Left = "ask", "wet or dry?"
		v.Lines = append(v.Lines, "its winter water is not said")
	case suspect(wet):
		v.State, v.Left = "suspect", "in doubt"
		v.Lines = append(v.Lines, "doubtful reading"+b.lastKnown(ps))
	case ps.WetnessAt.IsZero():
		v.State, v.Left = "none", "no reading"
	default:
		b.judged(v, ps)
	}
}

func (b *bench) judged(v *potView, ps *alerts.PotStanding) {
	v.Left = daysLeft(ps.DaysLeft)
	switch {
	case !ps.DrySince.IsZero():
		v.State, v.Left = "dry", "dry"
		v.Lines = append(v.Lines, "dry since "+b.day(ps.DrySince))
	case !ps.WetnessOK:
		v.Lines = append(v.Lines, "as of "+b.when(ps.WetnessAt))
	case v.Left == "":
		v.Left = "learning" // the pot has not dried for long enough to say
	}
	if ps.Rough {
		v.Lines = append(v.Lines, "rough: borrowed marks")
	}
}

func (b *bench) withoutProbe(v *potView) {
	v.State, v.Left, v.Reading, v.Level = "none", "no probe", "", -1
	if by := b.speaker[v.ID]; by != "" {
		v.Left = "as " + by
		if b.faster[v.ID] {
			v.Left = "before " + by
		}
	}
}

func (b *bench) lastKnown(ps *alerts.PotStanding) string {
	if ps.WetnessAt.IsZero() {
		return ""
	}
	return "; last " + percent(int64(ps.Wetness)) + " " + b.on(ps.WetnessAt)
}

// on is "on 13 Jan", "today" or "yesterday".
func (b *bench) on(t time.Time) string {
	d := b.day(t)
	if d == "today" || d == "yesterday" {
		return d
	}
	return "on " + d
}

func (b *bench) troubleSince(trouble string, since time.Time) string {
	if since.IsZero() {
		return "never heard"
	}
	if trouble == "silent" {
		return "since " + b.when(since)
	}
	return trouble + " since " + b.when(since)
}

// kindWords sets the winter water beside the class: "dry winter, early riser".
func (b *bench) kindWords(ps *alerts.PotStanding) string {
	w := ""
	if ps.Regime != nil {
		w = regimeWords(ps.Regime.Name)
	}
	if ps.Plant == nil {
		return w
	}
	if e := earlinessWords(ps.Plant.Earliness); e != "" && w != "" {
		return w + ", " + e
	} else if e != "" {
		return e
	}
	return w
}

// level is how full a pot is between its own limits: 0 at the dry limit, 100 at the upper one (or drained-full without one).
func level(ps *alerts.PotStanding) int {
	low, high := int64(0), int64(1000)
	if ps.Regime != nil {
		c := ps.Regime.Cell(ps.Phase)
		low = int64(c.Low)
		if c.High > 0 {
			high = int64(c.High)
		}
	}
	if high <= low {
		return -1
	}
	return int(min(max((int64(ps.Wetness)-low)*100/(high-low), 0), 100))
}
