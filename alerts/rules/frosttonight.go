package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// frostSettings: growers agree that opened shoots are harmed near -1 to -2 °C at the leaf and a flower bud near -1.5 °C, and
// that a closed nose bears much more; an extension service gives -2.2 to -3.3 °C for new leaves of perennials. The figures for
// these plants are guesses. A thin row cover keeps about 1 °C, a thick one up to 5 °C (extension bulletins).
type frostSettings struct {
	Nose    units.MilliCelsius `toml:"nose" help:"leaf limit of a nose above the grit, closed"`
	Opening units.MilliCelsius `toml:"opening" help:"leaf limit of opening and open shoots"`
	Early   units.MilliCelsius `toml:"early" help:"the same of early kinds"`
	Bud     units.MilliCelsius `toml:"bud" help:"leaf limit of a bud or flower"`
	Fleece  units.MilliCelsius `toml:"fleece" help:"what a cover is trusted with"`
}

func init() {
	add(Entry{Kind: "frost-tonight", Doc: "opened shoots are harmed near -1 to -2 °C at the leaf, which is 2.5 °C below the air under an open sky and 0.5 °C under a roof; the night's minimum from a forecast or the site's own clear nights (measured trials for leaf and method, growers for the limits, which are guesses)",
		Example: "[rule.frost-tonight]\nnose = \"-5 °C\"\nopening = \"-2 °C\"\nearly = \"-1 °C\"\nbud = \"-1.5 °C\"\nfleece = \"1 °C\"\n", Build: buildFrostTonight})
}

// The evening in which the warning goes out, and the hours in which it stands.
var (
	frostFrom  = alerts.At(16, 0)
	frostUntil = alerts.At(21, 0)
	frostOver  = alerts.At(6, 0)
)

func buildFrostTonight(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, frostSettings{Nose: -5000, Opening: -2000, Early: -1000, Bud: -1500, Fleece: 1000})
	return alerts.Rule{Kind: "frost-tonight", Rank: alerts.Tonight, Linger: time.Hour, From: frostFrom, Until: frostUntil, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findFrostTonight(st, found, set) },
		Say:  alerts.SayFrostTonight}, err
}

func findFrostTonight(st *alerts.Standing, found func(alerts.Finding), set frostSettings) {
	if !st.AnyRisen {
		return
	}
	if c := alerts.ClockOf(st.At, st.Garden.Site.Zone); c < frostFrom && c >= frostOver {
		return
	}
	for i := range st.Pots {
		p := &st.Pots[i]
		limit, exists := set.limit(p)
		if !exists {
			continue
		}
		pl, other := frostPlace(st, p)
		if pl == nil {
			continue
		}
		air := milli(pl.Expected.Mid())
		if air-pl.LeafBelowAir() >= limit {
			continue
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1,
			Facts: alerts.Facts{Temp: air, Limit: limit, Word: set.remedy(st, pl, limit), Other: other, Guess: true}})
	}
}

// frostPlace is where a pot's leaves are judged: its place on record or, where a pot from there seems to have been carried
// elsewhere without a word, that place if it will be colder. nil: nothing firm is expected there.
func frostPlace(st *alerts.Standing, p *alerts.PotStanding) (at *alerts.PlaceStanding, other string) {
	at = firm(place(st, p.Place))
	for i := range st.Pots {
		q := &st.Pots[i]
		if q.Elsewhere == "" || q.Place != p.Place {
			continue
		}
		if o := firm(place(st, q.Elsewhere)); o != nil && (at == nil || leafLow(o) < leafLow(at)) {
			return o, q.Elsewhere
		}
	}
	return at, ""
}

func firm(p *alerts.PlaceStanding) *alerts.PlaceStanding {
	if p == nil || !p.Expected.OK || !p.ExpectedFirm {
		return nil
	}
	return p
}

func leafLow(p *alerts.PlaceStanding) units.MilliCelsius {
	return milli(p.Expected.Mid()) - p.LeafBelowAir()
}

// limit is what the shoots bear at the leaf; a closed nose under the grit has no limit.
func (s frostSettings) limit(p *alerts.PotStanding) (units.MilliCelsius, bool) {
	opening := s.Opening
	if p.Plant != nil && p.Plant.Earliness == garden.Early {
		opening = s.Early
	}
	switch p.Stage {
	case alerts.Nose:
		return s.Nose, true
	case alerts.Opening, alerts.Open:
		return opening, true
	case alerts.Bud, alerts.Flower:
		return max(s.Bud, opening), true
	}
	return 0, false
}

// remedy is what will do tonight: the shelter alone, the shelter with fleece, fleece where it stands, or indoors.
func (s frostSettings) remedy(st *alerts.Standing, at *alerts.PlaceStanding, limit units.MilliCelsius) string {
	if sh := st.Shelter(at.Place.ID); sh != nil {
		under := leafLow(sh)
		switch {
		case under >= limit+s.Fleece:
			return alerts.UnderShelter
		case under >= limit-s.Fleece:
			return alerts.ShelterAndFleece
		}
		return alerts.Indoors
	}
	if leafLow(at) >= limit-s.Fleece {
		return alerts.Fleece
	}
	return alerts.Indoors
}

func milli(c float64) units.MilliCelsius {
	if c < 0 {
		return units.MilliCelsius(c*1000 - 0.5)
	}
	return units.MilliCelsius(c*1000 + 0.5)
}

func place(st *alerts.Standing, id string) *alerts.PlaceStanding {
	for i := range st.Places {
		if st.Places[i].Place.ID == id {
			return &st.Places[i]
		}
	}
	return nil
}
