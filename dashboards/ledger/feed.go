package ledger

import (
	"fmt"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/review"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// A Plan is the keeper's way of feeding, as garden.toml has it.
type Plan struct{ garden.Feeding }

// PlanOf is a garden's plan.
func PlanOf(g *garden.Garden) Plan { return Plan{g.Feed} }

// Caution stands beside every dose.
const Caution = "The label's rate is the most, not the aim; the label and local law come first. Keep granules and feed from children, pets and drains."

// DoseShort is the granules for a pot at the plan's rate or the label's, whichever is less, for lists that carry the caution once.
func (p Plan) DoseShort(pot *garden.Pot) string {
	rate, _ := p.Rate()
	grams, ok := p.Feeding.Dose(pot.Litres)
	if !ok {
		return fmt.Sprintf("%s: write its volume into the garden file for a dose; %g g for each litre (%s).", pot.ID, rate, p.why())
	}
	return fmt.Sprintf("%s: %.1f g of granules for %v at %g g/L (%s).", pot.ID, grams, pot.Litres, rate, p.why())
}

func (p Plan) why() string {
	switch _, label := p.Rate(); {
	case label:
		return "the label's most"
	case p.Granules > 0:
		return "as you set it"
	}
	return "a third to half of the nursery rate, a guess"
}

// SoakWords says how much liquid feed a pot is given at once and how it is mixed; litres 0 says it for each litre of pot.
func (p Plan) SoakWords(pot *garden.Pot) string {
	full := p.Full()
	s := fmt.Sprintf("%.0f mL for each litre of pot at %.0f mg/L of nitrogen", full.Soak, full.Liquid)
	if pot.Litres > 0 {
		s = fmt.Sprintf("%.0f mL at %.0f mg/L of nitrogen", full.Soak*pot.Litres.Litres(), full.Liquid)
	}
	if b := p.Bottle(); b > 0 {
		s += fmt.Sprintf(", %.2g mL or g of the feed in each litre of water", b)
	}
	return s
}

// Fed is what one pot was given in a season.
type Fed struct {
	Pot       string
	Granules  [2]float64 // mg of nitrogen a litre released, at least and at most
	Liquid    float64    // mg of nitrogen a litre
	Assumed   bool       // an amount or strength was not noted and the plan's was taken
	Dressed   garden.Date
	Soaked    garden.Date // first soak: the first liquid feed from three days before the dressing on; 0: not noted
	Feeds     int
	Due       int         // by the interval from opening to the stop, or so far
	Planned   int         // by the plan; 0: as many as fit
	Every     int         // days
	Stop      garden.Date // first day without liquid feed
	ByFlower  bool        // the flower set it
	AfterStop int         // feeds noted from then on
}

// N is the nitrogen of the season in mg per litre of pot.
func (f Fed) N() [2]float64 { return [2]float64{f.Granules[0] + f.Liquid, f.Granules[1] + f.Liquid} }

// given is what a pot's season was, whoever kept it.
type given struct {
	cal      garden.Calendar
	season   int
	until    garden.Date // the day it is reckoned to, not included
	litres   float64
	dressed  garden.Date
	grams    float64
	released [2]float64
	feeds    []alerts.Given
	opening  garden.Date
	group    garden.FeedGroup
	stop     garden.Date
	byFlower bool
}

// FedOf works out what a pot was given from its season's record.
func (p Plan) FedOf(w *review.Winter, pot *review.Pot, hunger string) Fed {
	g := given{cal: w.Cal(), season: w.Season, until: w.Until, litres: pot.Litres, dressed: pot.Dressed, grams: pot.DressedG, released: pot.Released, opening: pot.Opening, group: p.Group(hunger)}
	g.stop = g.group.Stop(g.cal, g.season, pot.Flower)
	g.byFlower = pot.Flower != 0 && g.stop == pot.Flower
	for _, n := range pot.Feeds {
		g.feeds = append(g.feeds, alerts.Given{At: n.At, Detail: n.Detail})
	}
	f := p.fed(g)
	f.Pot = pot.ID
	return f
}

// FedNow works out what a pot was given this season so far.
func (p Plan) FedNow(st *alerts.Standing, ps *alerts.PotStanding) Fed {
	date := func(t time.Time) garden.Date {
		if t.IsZero() {
			return 0
		}
		return st.Cal.DateOf(t)
	}
	g := given{cal: st.Cal, season: st.Season, until: st.Day + 1, litres: ps.Pot.Litres.Litres(), dressed: date(ps.Dressed), grams: ps.DressedG,
		released: [2]float64{ps.FeedReleased.Low, ps.FeedReleased.High}, feeds: ps.Feeds, opening: date(ps.OpenedAt)}
	g.group, g.stop, g.byFlower = st.FeedStop(ps)
	f := p.fed(g)
	f.Pot = ps.Pot.ID
	return f
}

// soakBefore is how long before the granules the first soak may have been given.
const soakBefore = 3

func (p Plan) fed(g given) Fed {
	full := p.Full()
	f := Fed{Dressed: g.dressed, Feeds: len(g.feeds), Every: g.group.Every, Planned: g.group.Feeds, Stop: g.stop, ByFlower: g.byFlower}
	litres := g.litres
	if litres == 0 {
		litres = 1
	}
	if g.dressed != 0 {
		rate, _ := p.Rate()
		if g.grams > 0 && g.litres > 0 {
			rate = g.grams / g.litres
		}
		for i := range f.Granules {
			f.Granules[i] = indices.GranuleN(rate, full.GranulesN, g.released[i])
		}
		f.Assumed = g.grams == 0
	}
	var book indices.FeedBook
	for _, n := range g.feeds {
		mL, mg, whole := garden.ReadFeed(n.Detail)
		f.Assumed = f.Assumed || !whole
		if mL == 0 {
			mL = full.Soak * litres
		}
		if mg == 0 {
			mg = full.Liquid
		}
		book.Soaked(mL, litres, mg)
		d := g.cal.DateOf(n.At)
		if d > f.Stop || d == f.Stop && !f.ByFlower {
			f.AfterStop++
		}
		if f.Soaked == 0 && g.dressed != 0 && d >= g.dressed-soakBefore {
			f.Soaked = d
		}
	}
	f.Liquid = book.Liquid()
	if until := min(g.until, f.Stop); g.opening != 0 && until > g.opening {
		f.Due = 1 + int(until-g.opening-1)/f.Every
	}
	if f.Planned > 0 {
		f.Due = min(f.Due, f.Planned)
	}
	return f
}

// FeedLines are the season's feeding in words, a line a pot that was fed or dressed, and the mixes that are too organic.
func FeedLines(w *review.Winter, g *garden.Garden, plan Plan) []string {
	var out []string
	for i := range w.Pots {
		p := &w.Pots[i]
		if share, ok := garden.OrganicShare(p.Mix); ok && share > garden.OrganicMost {
			out = append(out, fmt.Sprintf("%s stands in a mix %.3g %% organic; over %d %% is not advised for these roots.", p.ID, share, garden.OrganicMost))
		}
		if p.Dressed == 0 && len(p.Feeds) == 0 {
			continue
		}
		out = append(out, plan.FedOf(w, p, hunger(g, p.Plant)).String())
	}
	return out
}

// FeedingNow is this season's feeding as it stands, a line a living pot: dose, what was given, what is due. The caution comes last.
func FeedingNow(st *alerts.Standing) []string {
	plan := PlanOf(st.Garden)
	var out []string
	for i := range st.Pots {
		ps := &st.Pots[i]
		if !ps.Gone.IsZero() {
			continue
		}
		f := plan.FedNow(st, ps)
		if f.Dressed == 0 && f.Feeds == 0 {
			out = append(out, plan.DoseShort(ps.Pot)+" Nothing given this season yet.")
			continue
		}
		out = append(out, plan.DoseShort(ps.Pot)+f.given()+" In all "+f.words())
	}
	if len(out) > 0 {
		out = append(out, Caution)
	}
	return out
}

func (f Fed) given() string {
	switch {
	case f.Dressed == 0:
		return " No granules noted."
	case f.Soaked == 0:
		return fmt.Sprintf(" Given on %v, the first soak is not noted.", f.Dressed)
	}
	return fmt.Sprintf(" Given on %v, first soak on %v.", f.Dressed, f.Soaked)
}

func hunger(g *garden.Garden, plant string) string {
	if p := g.Plant(plant); p != nil {
		return p.Hunger
	}
	return ""
}

// String says what a pot was given.
func (f Fed) String() string { return f.Pot + ": " + f.words() }

func (f Fed) words() string {
	s := f.NWords() + " of nitrogen a litre of pot"
	s += fmt.Sprintf(" (granules %.0f, liquid %.0f); liquid feeds: %d given, %d due by the plan of one every %d days to %v", f.Granules[0], f.Liquid, f.Feeds, f.Due, f.Every, f.Stop)
	if f.ByFlower {
		s += " (the flower)"
	}
	if f.Planned > 0 {
		s += fmt.Sprintf(", %d planned", f.Planned)
	}
	if f.AfterStop > 0 {
		s += fmt.Sprintf(", %d of them after it", f.AfterStop)
	}
	if f.Assumed {
		s += "; amounts that were not noted are the plan's"
	}
	return s + "."
}

// NWords is the nitrogen of the season a litre of pot.
func (f Fed) NWords() string {
	n := f.N()
	if n[1]-n[0] >= 1 {
		return fmt.Sprintf("%.0f to %.0f mg", n[0], n[1])
	}
	return fmt.Sprintf("%.0f mg", n[0])
}
