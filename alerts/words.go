package alerts

import (
	"fmt"
	"math"
	"strings"
	"time"

	"lathwatch/sensors/units"
)

// This file holds the words of every message. A message is one sentence that names place and plants, one thing to do, and why in
// one clause. No jargon; guesses are called guesses.

// many is how many pots are named one by one before the rest is only counted.
const many = 6

// names gives "D7", "D7 and E1", "D7, E1 and M1", or "D7, E1, M1 ... and 9 more".
func names(ids []string) string {
	if len(ids) > many+1 {
		return strings.Join(ids[:many], ", ") + fmt.Sprintf(" and %d more", len(ids)-many)
	}
	switch len(ids) {
	case 0:
		return "no pot"
	case 1:
		return ids[0]
	}
	return strings.Join(ids[:len(ids)-1], ", ") + " and " + ids[len(ids)-1]
}

// who names a group's pots with their plants while that stays short.
func (g Group) who() string {
	ids := g.Pots()
	if len(ids) > 3 {
		return names(ids)
	}
	said := make([]string, len(ids))
	for i, id := range ids {
		said[i] = id
		if p := g.St.pot(id); p != nil && p.Plant != nil && p.Plant.Name != "" {
			said[i] = id + " (" + p.Plant.Name + ")"
		}
	}
	return names(said)
}

// where gives "at the shelter table", by the place's name.
func (g Group) where() string {
	p := g.St.place(g.Place)
	if p == nil || p.Place.Name == "" {
		return "in the garden"
	}
	switch first, _, _ := strings.Cut(p.Place.Name, " "); first {
	case "under", "at", "by", "beside", "behind", "in", "on", "against", "along", "below":
		return p.Place.Name
	}
	return "at " + p.Place.Name
}

func (st *Standing) pot(id string) *PotStanding {
	for i := range st.Pots {
		if st.Pots[i].Pot.ID == id {
			return &st.Pots[i]
		}
	}
	return nil
}

func (st *Standing) place(id string) *PlaceStanding {
	for i := range st.Places {
		if st.Places[i].Place.ID == id {
			return &st.Places[i]
		}
	}
	return nil
}

// degrees gives a temperature as the keeper reads it.
func (st *Standing) degrees(t units.MilliCelsius) string {
	v, u := t.Celsius(), "°C"
	if st.Garden.Site.Fahrenheit {
		v, u = v*9/5+32, "°F"
	}
	v = math.Round(v*10)/10 + 0 // no minus nought
	return strings.Replace(fmt.Sprintf("%g", v), "-", "−", 1) + " " + u
}

// amount gives a dose as the keeper measures it.
func (st *Standing) amount(v units.Volume) string {
	if st.Garden.Site.Fahrenheit {
		return fmt.Sprintf("%d fl oz", int(math.Round(float64(v)/29.57)))
	}
	if v >= 1000 {
		return fmt.Sprintf("%.1f L", v.Litres())
	}
	return fmt.Sprintf("%d mL", v)
}

func (st *Standing) day(t time.Time) string {
	return t.In(st.Garden.Site.Zone).Format("2 January")
}

func (st *Standing) hour(t time.Time) string {
	return t.In(st.Garden.Site.Zone).Format("2 January 15:04")
}

func percent(w units.PerMilleFull) string { return fmt.Sprintf("%d %%", (w+5)/10) }

func plural(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// SayWaterLight words a light watering for resting pots.
func SayWaterLight(g Group) string {
	f := g.Items[0].Facts
	amount := g.St.amount(f.Amount)
	if len(g.Items) > 1 {
		lo, hi := f.Amount, f.Amount
		for _, it := range g.Items {
			lo, hi = min(lo, it.Facts.Amount), max(hi, it.Facts.Amount)
		}
		if lo != hi {
			amount = g.St.amount(lo) + " to " + g.St.amount(hi)
		}
		amount += " each"
	}
	return fmt.Sprintf("Water %s %s lightly this morning, about %s: dry right through for three thawed days and no frost is expected for two nights (the dry limit is a guess).",
		g.who(), g.where(), amount)
}

// SayWater words a full watering.
func SayWater(g Group) string {
	f := g.Items[0].Facts
	why := fmt.Sprintf("down to %s of drained-full", percent(f.Wet))
	if len(g.Items) > 1 {
		why = "all under " + percent(units.PerMilleFull(f.Low)) + " of drained-full"
	}
	return fmt.Sprintf("Water %s %s, about %s a pot: %s.", g.who(), g.where(), g.St.amount(f.Amount), why)
}

// SayWarmSpell words warmth that may wake a plant too soon.
func SayWarmSpell(g Group) string {
	guess := ""
	if g.Items[0].Facts.Guess {
		guess = " (dates are a guess for its class until its own years are on record)"
	}
	return fmt.Sprintf("Shade and air %s %s and look at the %s: two warm days after enough cold may start early growth%s.",
		g.who(), g.where(), plural(len(g.Items), "nose", "noses"), guess)
}

// SayRootCold words frost at the roots.
func SayRootCold(g Group) string {
	f := g.Items[0].Facts
	return fmt.Sprintf("Shelter the roots of %s %s with fleece, straw or a move indoors to a cold place: the core is at %s, past the limit of %s (a guess).",
		g.who(), g.where(), g.St.degrees(f.Temp), g.St.degrees(f.Limit))
}

// SayProbeCheck asks for a look at a moisture probe that shows no thaw.
func SayProbeCheck(g Group) string {
	return fmt.Sprintf("Lift %s %s and tell me whether it is heavy or light: its moisture probe shows no thaw after three days above 2 °C and may be harmed.",
		g.who(), g.where())
}

// SayGap words a stretch without readings.
func SayGap(g Group) string {
	f := g.Items[0].Facts
	return fmt.Sprintf("Look at the pots when you pass: there were no readings from %s to %s, and what happened in between is not known.",
		g.St.hour(f.From), g.St.hour(f.Until))
}

// SayDigest words the weekly lines.
func SayDigest(st *Standing, lines []string) string {
	silent := 0
	for i := range st.Probes {
		p := &st.Probes[i]
		if p.LastAt.IsZero() || p.Silent || p.Fault != 0 {
			silent++
		}
	}
	n := len(st.Probes)
	answered := fmt.Sprintf("all %d probes answer", n)
	if silent > 0 {
		answered = fmt.Sprintf("%d of %d probes answer", n-silent, n)
	}
	head := "Nothing is to do this week; " + answered + "."
	if len(st.Alerts) > 0 || len(lines) > 0 {
		head = Sentence(st) + " " + capital(answered) + "."
	}
	return strings.Join(append([]string{head}, lines...), "\n")
}

// Sentence says in one line what the keeper should do now.
func Sentence(st *Standing) string {
	if st.Garden == nil {
		return "No garden is configured yet."
	}
	byKind := map[string][]string{}
	var kinds []string
	for _, a := range st.Alerts {
		if a.Seen || st.At.Before(a.Later) {
			continue
		}
		if byKind[a.Kind] == nil {
			kinds = append(kinds, a.Kind)
		}
		byKind[a.Kind] = append(byKind[a.Kind], a.Pots...)
	}
	for _, k := range kinds {
		if do, ok := sentences[k]; ok {
			return do(names(byKind[k]))
		}
	}
	return "Nothing to do."
}

var sentences = map[string]func(who string) string{
	"water-light": func(who string) string { return "Water " + who + " lightly today." },
	"water":       func(who string) string { return "Water " + who + " today." },
	"warm-spell":  func(who string) string { return "Shade and air " + who + "." },
	"root-cold":   func(who string) string { return "Shelter the roots of " + who + "." },
	"probe-check": func(who string) string { return "Lift " + who + ": is it heavy or light?" },
	"gap":         func(string) string { return "Look at the pots: readings were missing." },
}

// Verdict is what a pot needs, in one phrase.
func Verdict(p *PotStanding, alerts []Alert) string {
	for _, a := range alerts {
		for _, id := range a.Pots {
			if id == p.Pot.ID {
				if v, ok := verdicts[a.Kind]; ok {
					return v
				}
			}
		}
	}
	switch {
	case p.Regime == nil:
		return "which water regime?"
	case !p.CheckProbe.IsZero():
		return "check this probe"
	case p.Frozen:
		return "frozen, no moisture verdict"
	case p.NeedsMarks:
		return "needs two marks"
	}
	return "nothing to do"
}

var verdicts = map[string]string{"water-light": "water lightly", "water": "water", "warm-spell": "it may move early this year: shade and air", "root-cold": "shelter the roots",
	"probe-check": "lift the pot"}

// Reach says that messages reach nobody yet.
func Reach() string {
	return "Messages reach nobody yet: no way out leads beyond this board. Configure an outside broker, mail or post."
}
