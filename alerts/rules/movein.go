package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// moveInSettings: growers cover dry-rest pots from late October to mid November once leaves are down; the exact date matters
// little for hardening (controlled trials), so water decides within the weeks around it: heavy rain on pots whose leaves are down
// brings the day forward, and wet pots in dry weather wait outside, where they drain. Shares and depths of rain are guesses. Days are of
// the plants' year: 1 September is 0, shifted by half a year in the south.
type moveInSettings struct {
	Early int                `toml:"early-day" help:"day of the plants' year from which rain may bring it forward: 36 is about 7 October"`
	Wait  int                `toml:"wait-day" help:"day of the plants' year up to which wet pots may wait in dry weather: 74 is about 14 November"`
	Wet   units.PerMilleFull `toml:"wet" help:"a pot over this is wet to go in"`
	Rain  units.MicroMetre   `toml:"rain" help:"rain in seven days that brings the day forward"`
	Dry   units.MicroMetre   `toml:"dry" help:"rain in seven days up to which the weather is dry"`
	From  int                `toml:"from-day" help:"day of the plants' year: 50 is about 21 October"`
	Until int                `toml:"until-day" help:"day of the plants' year: 85 is about 25 November"`
}

func init() {
	add(Entry{Kind: "move-in", Doc: "dry-rest pots go under the shelter once their leaves are down, late October to mid November, sooner in rain, later while wet ones drain in dry weather (growers' habit; trials found the date uncritical, shares are guesses)",
		Example: "[rule.move-in]\nfrom-day = 50\nuntil-day = 85\nearly-day = 36\nwait-day = 74\nwet = \"70 %\"\nrain = \"20 mm\"\ndry = \"5 mm\"\n", Build: buildMoveIn})
}

func buildMoveIn(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, moveInSettings{From: 50, Until: 85, Early: 36, Wait: 74, Wet: 700, Rain: 20_000, Dry: 5_000})
	return alerts.Rule{Kind: "move-in", Rank: alerts.Week, Hold: 24 * time.Hour, Linger: 7 * 24 * time.Hour, Together: true,
		Over: func(st *alerts.Standing, f alerts.Finding) bool { return stands(st, f, true) },
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findMoveIn(st, found, set) },
		Say:  alerts.SayMoveIn}, err
}

// stands reports that a finding's pot stands under a roof, or in the open, by now.
func stands(st *alerts.Standing, f alerts.Finding, roof bool) bool {
	p := potOf(st, f.Subject)
	if p == nil {
		return false
	}
	pl := place(st, p.Place)
	return pl != nil && pl.Place.Roof == roof
}

func potOf(st *alerts.Standing, id string) *alerts.PotStanding {
	for i := range st.Pots {
		if p := &st.Pots[i]; p.Pot.ID == id {
			return p
		}
	}
	return nil
}

func findMoveIn(st *alerts.Standing, found func(alerts.Finding), set moveInSettings) {
	day := st.Cal.SeasonDay(st.Day)
	rain, gauged := rainWeek(st)
	if day < set.Early || day > set.Until || !anyRoof(st) || day < set.From && !(gauged && rain >= set.Rain) {
		return
	}
	for i := range st.Pots {
		p := &st.Pots[i]
		pl := place(st, p.Place)
		if p.Regime == nil || p.Regime.Heat || !p.Regime.Rest.Speak[garden.TooWet] || pl == nil || pl.Place.Roof {
			continue
		}
		wet := p.WetnessOK && p.Wetness > set.Wet
		ripe := 1.0
		switch {
		case day < set.From && (p.Stage != alerts.LeafDown || !wet):
			ripe = almost // rain hurries only who is wet and has its leaves down
		case p.Phase != garden.Rest || p.ColdStart.IsZero():
			if day >= set.From || p.Stage != alerts.LeafDown {
				ripe = almost // goes in with the others, but does not call for it
			}
		case day >= set.From && day < set.Wait && wet && gauged && rain <= set.Dry:
			ripe = almost // drains better where it is
		}
		facts := alerts.Facts{Wet: p.Wetness}
		if !p.WetnessOK {
			facts.Wet = 0
		}
		if gauged && rain >= set.Rain {
			facts.Low = float64(rain) / 1000
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: ripe, Level: 1, Facts: facts})
	}
}

// rainWeek is the most rain of the last seven days under the open sky; gauged is false where nobody measures it.
func rainWeek(st *alerts.Standing) (rain units.MicroMetre, gauged bool) {
	for i := range st.Places {
		if p := &st.Places[i]; p.RainKnown && !p.Place.Roof {
			rain, gauged = max(rain, p.RainWeek), true
		}
	}
	return rain, gauged
}

func anyRoof(st *alerts.Standing) bool {
	for i := range st.Places {
		if st.Places[i].Place.Roof {
			return true
		}
	}
	return false
}

func anyOpen(st *alerts.Standing) *alerts.PlaceStanding {
	var open *alerts.PlaceStanding
	for i := range st.Places {
		if p := &st.Places[i]; p.Place.Shaded {
			return p
		} else if !p.Place.Roof && open == nil {
			open = p
		}
	}
	return open
}
