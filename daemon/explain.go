package daemon

import (
	"fmt"
	"math"
	"strings"

	"lathwatch/alerts/push"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// stepsMost is how many next steps are named: more than three are not read.
const stepsMost = 3

// Explain says in plain words what a garden file configures, what is still a guess, and the three most useful next steps.
func Explain(g *garden.Garden) []string {
	lines := []string{"Configured:"}
	for _, l := range configured(g) {
		lines = append(lines, "  "+l)
	}
	lines = append(lines, "Still a guess:")
	for _, l := range guesses(g) {
		lines = append(lines, "  "+l)
	}
	if mixes := ledger.MixRemarks(g); len(mixes) > 0 {
		lines = append(lines, "Not advised:")
		for _, l := range mixes {
			lines = append(lines, "  "+l)
		}
	}
	steps := nextSteps(g)
	if len(steps) == 0 {
		return append(lines, "Nothing more is needed. Note what you do and see: the plants' own years replace the guesses.")
	}
	lines = append(lines, "Most useful next:")
	for i, s := range steps[:min(len(steps), stepsMost)] {
		lines = append(lines, fmt.Sprintf("  %d. %s", i+1, s))
	}
	return lines
}

func configured(g *garden.Garden) []string {
	var lines []string
	for i := range g.Places {
		p := &g.Places[i]
		kind := "under the open sky"
		if p.Roof {
			kind = "under a roof"
		}
		if p.Shaded {
			kind += ", the shaded reference"
		}
		name := p.Name
		if name == "" {
			name = p.ID
		}
		lines = append(lines, fmt.Sprintf("%s (%s): %s; air %s.", name, kind, count(pots(g, func(q *garden.Pot) bool { return q.Place == p.ID }), "pot"), measured(g, p.ID)))
	}
	for i := range garden.Regimes {
		r := &garden.Regimes[i]
		if n := pots(g, func(q *garden.Pot) bool { return regimeName(g, q) == r.Name }); n > 0 {
			lines = append(lines, fmt.Sprintf("%s wintered %s.", count(n, "pot"), r.Name))
		}
	}
	moist, warm := 0, 0
	for i := range g.Pots {
		if has(g, garden.PotMoisture, g.Pots[i].ID, "") {
			moist++
		}
		if has(g, garden.PotTemperature, g.Pots[i].ID, "") {
			warm++
		}
	}
	lines = append(lines, fmt.Sprintf("%s with a moisture probe, %d with a thermometer; a round every %v.", count(moist, "pot"), warm, units.Span(g.Site.Every)))
	if r := push.Reach(g); r == "" {
		lines = append(lines, "Messages leave this board.")
	} else {
		lines = append(lines, r)
	}
	return lines
}

func measured(g *garden.Garden, place string) string {
	if has(g, garden.AirTemperature, "", place) {
		return "measured"
	}
	return "not measured"
}

func guesses(g *garden.Garden) []string {
	lines := []string{"Every limit of moisture, root cold and shoot frost: nobody has published one for these plants.",
		"The cold account's bounds of 60 and 90 days, and how much warmth brings a nose: the plants' own years will tell."}
	if names := unmarked(g); len(names) > 0 {
		lines = append(lines, "What the moisture of "+strings.Join(names, ", ")+" means: without two marks there is no verdict.")
	}
	if names := likes(g); len(names) > 0 {
		lines = append(lines, "The moisture of "+strings.Join(names, ", ")+": read through another pot's marks.")
	}
	var unknown []string
	for i := range g.Plants {
		if g.Plants[i].Earliness == garden.UnknownEarliness {
			unknown = append(unknown, g.Plants[i].ID)
		}
	}
	if len(unknown) > 0 {
		lines = append(lines, "When these plants rise, taken as neither early nor late: "+strings.Join(unknown, ", ")+".")
	}
	if !g.Feed.Set() {
		lines = append(lines, "How you feed: doses and intervals are growers' habit until you write [feed]; the label comes first.")
	}
	return append(lines, "The first season's frost nights: six degrees under the evening, until eight of the garden's own nights are known.")
}

// nextSteps are all that apply, the most useful first.
func nextSteps(g *garden.Garden) []string {
	var steps []string
	add := func(applies bool, format string, args ...any) {
		if applies {
			steps = append(steps, fmt.Sprintf(format, args...))
		}
	}
	_, sided := g.Site.South()
	place := !math.IsNaN(g.Site.Latitude)
	add(!sided && !place, "Write latitude and longitude under [site]: without them nobody knows which half of the year is winter.")
	add(!sided && place, "Look at the latitude under [site]: within ten degrees of the equator nobody knows which half of the year is winter.")
	add(len(g.Pots) == 0, "Write a [[pot]] block for each pot you want watched.")
	add(len(g.Probes) == 0, "Wire a first probe and run \"lathwatch probes\": it prints blocks to paste.")
	for i := range g.Places {
		p := &g.Places[i]
		add(len(g.Probes) > 0 && pots(g, func(q *garden.Pot) bool { return q.Place == p.ID }) > 0 && !has(g, garden.AirTemperature, "", p.ID),
			"Hang a shielded thermometer at plant height at %s: its frost nights are only inferred now.", p.ID)
	}
	add(push.Reach(g) != "", "Name a way out (an outside broker, mail or post): a frost warning that stays on this board warns nobody.")
	if names := unset(g); len(names) > 0 {
		add(true, "Say how %s are wintered (regime = \"dry-winter\" or \"wet-winter\"): nothing is said of their water until then.", strings.Join(names, ", "))
	}
	if names := unmarked(g); len(names) > 0 {
		add(true, "Mark %s: \"lathwatch mark %s drained-full\" an hour after it was watered through, driest-allowed when it is as light as you would let it.", strings.Join(names, ", "), names[0])
	}
	if names := mute(g); len(names) > 0 && len(g.Probes) > 0 {
		add(true, "Nobody speaks for %s: list them as relatives of a probed pot that dries like them.", few(names))
	}
	add(math.IsNaN(g.Site.Longitude) && sided, "Write the longitude too: sunset decides when the evening's frost estimate is made.")
	add(g.Normals == nil, "Copy twelve monthly means into [normals]: without them there are no dates ahead before the second winter.")
	add(g.Services.Backup.Folder == "", "Name a backup folder on another card or stick: one broken card takes journal and backup both.")
	add(!anyShaded(g) && len(g.Places) > 1, "Call one place shaded = true: heat pockets are told against it.")
	return steps
}

func pots(g *garden.Garden, is func(*garden.Pot) bool) (n int) {
	for i := range g.Pots {
		if is(&g.Pots[i]) {
			n++
		}
	}
	return n
}

func has(g *garden.Garden, m garden.Measures, pot, place string) bool {
	for i := range g.Probes {
		if p := &g.Probes[i]; p.Measures == m && p.Pot == pot && p.Place == place {
			return true
		}
	}
	return false
}

func regimeName(g *garden.Garden, p *garden.Pot) string {
	if p.Regime != "" {
		return p.Regime
	}
	if plant := g.Plant(p.Plant); plant != nil {
		return plant.Regime
	}
	return ""
}

func unset(g *garden.Garden) (ids []string) {
	for i := range g.Pots {
		if regimeName(g, &g.Pots[i]) == "" {
			ids = append(ids, g.Pots[i].ID)
		}
	}
	return ids
}

// unmarked are probed pots whose probe has neither two marks nor a pot to borrow them from.
func unmarked(g *garden.Garden) (ids []string) {
	for i := range g.Probes {
		p := &g.Probes[i]
		pot := g.Pot(p.Pot)
		if p.Measures == garden.PotMoisture && len(p.Marks) < 2 && pot != nil && pot.Like == "" && p.Unit.String() != "%" {
			ids = append(ids, p.Pot)
		}
	}
	return ids
}

func likes(g *garden.Garden) (ids []string) {
	for i := range g.Pots {
		if p := &g.Pots[i]; p.Like != "" && has(g, garden.PotMoisture, p.ID, "") {
			ids = append(ids, p.ID)
		}
	}
	return ids
}

// mute are pots without a moisture probe that no probed pot speaks for.
func mute(g *garden.Garden) (ids []string) {
	spoken := map[string]bool{}
	for i := range g.Pots {
		p := &g.Pots[i]
		if has(g, garden.PotMoisture, p.ID, "") {
			spoken[p.ID] = true
			for _, r := range append(append([]string{}, p.Relatives...), p.Faster...) {
				spoken[r] = true
			}
		}
	}
	for i := range g.Pots {
		if !spoken[g.Pots[i].ID] {
			ids = append(ids, g.Pots[i].ID)
		}
	}
	return ids
}

func anyShaded(g *garden.Garden) bool {
	for i := range g.Places {
		if g.Places[i].Shaded {
			return true
		}
	}
	return false
}

func few(ids []string) string {
	if len(ids) > 6 {
		return strings.Join(ids[:5], ", ") + fmt.Sprintf(" and %d more", len(ids)-5)
	}
	return strings.Join(ids, ", ")
}

func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
