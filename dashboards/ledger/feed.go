package ledger

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// A Plan is the keeper's way of feeding. Every figure is a guess until the keeper sets it; growers disagree by ten.
type Plan struct {
	GranuleGPerL float64 // granules, g per litre of mix; default 2: a third to half of the nursery standard
	GranulePctN  float64 // their nitrogen, per cent; default 15
	SoakMLPerL   float64 // liquid feed, mL per litre of pot; default 300
	SoakMgPerL   float64 // its nitrogen, mg/L; default 100
	EveryDays    map[string]int
}

// The defaults of a Plan. The intervals go by feed hunger.
const (
	defaultGPerL = 2
	defaultPctN  = 15
	defaultSoak  = 300
	defaultMgN   = 100
)

// intervals between liquid feeds by hunger, days: growers' habit, guesses.
var intervals = []struct {
	hunger string
	days   int
}{{"modest", 28}, {"usual", 14}, {"hungry", 10}}

func (p Plan) full() Plan {
	set := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	set(&p.GranuleGPerL, defaultGPerL)
	set(&p.GranulePctN, defaultPctN)
	set(&p.SoakMLPerL, defaultSoak)
	set(&p.SoakMgPerL, defaultMgN)
	return p
}

func (p Plan) every(hunger string) int {
	if n := p.EveryDays[hunger]; n > 0 {
		return n
	}
	for _, i := range intervals {
		if i.hunger == hunger {
			return i.days
		}
	}
	return 14
}

// Caution stands beside every dose.
const Caution = "The label's rate is the most, not the aim; keep granules from children, pets and drains, and follow local law."

// Dose is the granules for a pot at the plan's rate or the label's, whichever is less, with its caution. labelGPerL 0 means the keeper
// has not said what the label allows.
func (p Plan) Dose(pot string, litres units.Volume, labelGPerL float64) string {
	p = p.full()
	rate, why := p.GranuleGPerL, "a third to half of the nursery rate, a guess"
	if labelGPerL > 0 && labelGPerL < rate {
		rate, why = labelGPerL, "the label's most"
	}
	if litres <= 0 {
		return fmt.Sprintf("%s: write its volume into the garden file for a dose; %g g for each litre (%s). %s", pot, rate, why, Caution)
	}
	return fmt.Sprintf("%s: %.1f g of granules for %v at %g g/L (%s). %s", pot, rate*litres.Litres(), litres, rate, why, Caution)
}

// Fed is what one pot was given in a season.
type Fed struct {
	Pot       string
	Granules  [2]float64 // mg of nitrogen a litre released, at least and at most
	Liquid    float64    // mg of nitrogen a litre
	Assumed   bool       // an amount or strength was not noted and the plan's was taken
	Feeds     int
	Due       int // by the plan from the first leaf to the flower, or so far
	Every     int
	AfterStop int // feeds noted after the flower
}

// N is the nitrogen of the season in mg per litre of pot.
func (f Fed) N() [2]float64 { return [2]float64{f.Granules[0] + f.Liquid, f.Granules[1] + f.Liquid} }

// FedOf works out what a pot was given from its season's record.
func (p Plan) FedOf(w *review.Winter, pot *review.Pot, hunger string) Fed {
	p = p.full()
	f := Fed{Pot: pot.ID, Feeds: len(pot.Feeds), Every: p.every(hunger)}
	if pot.Dressed != 0 {
		for i := range f.Granules {
			f.Granules[i] = indices.GranuleN(p.GranuleGPerL, p.GranulePctN, pot.Released[i])
		}
	}
	cal, litres := w.Cal(), pot.Litres
	if litres == 0 {
		litres = 1
	}
	var book indices.FeedBook
	for _, n := range pot.Feeds {
		mL, mg, whole := ReadFeed(n.Detail)
		f.Assumed = f.Assumed || !whole
		if mL == 0 {
			mL = p.SoakMLPerL * litres
		}
		if mg == 0 {
			mg = p.SoakMgPerL
		}
		book.Soaked(mL, litres, mg)
		if pot.Flower != 0 && cal.DateOf(n.At) > pot.Flower {
			f.AfterStop++
		}
	}
	f.Liquid = book.Liquid()
	if pot.Opening != 0 {
		until := w.Until
		if pot.Flower != 0 {
			until = pot.Flower
		}
		if until > pot.Opening {
			f.Due = 1 + int(until-pot.Opening-1)/f.Every
		}
	}
	return f
}

var (
	feedAmount   = regexp.MustCompile(`(?i)([0-9]+(?:\.[0-9]+)?)\s*(ml|l)\b(?:[^/]|$)`)
	feedStrength = regexp.MustCompile(`(?i)([0-9]+(?:\.[0-9]+)?)\s*(?:mg/l|ppm)`)
)

// ReadFeed reads what a fed note says: "300 mL at 100 mg/L". What it does not say is 0, and whole is false.
func ReadFeed(detail string) (mL, mgPerL float64, whole bool) {
	if m := feedStrength.FindStringSubmatch(detail); m != nil {
		mgPerL, _ = strconv.ParseFloat(m[1], 64)
	}
	if m := feedAmount.FindStringSubmatch(feedStrength.ReplaceAllString(detail, "")); m != nil {
		mL, _ = strconv.ParseFloat(m[1], 64)
		if strings.EqualFold(m[2], "l") {
			mL *= 1000
		}
	}
	return mL, mgPerL, mL > 0 && mgPerL > 0
}

// organicFeeds are words for feeds of plant or animal stuff, in the order they are looked for.
var organicFeeds = []string{"manure", "dung", "compost", "guano", "bone meal", "bonemeal", "blood meal", "horn", "hoof", "fish meal", "seaweed meal", "worm cast", "organic", "urea"}

// organicMix are words for organic parts of a mix.
var organicMix = []string{"bark", "peat", "coir", "compost", "leaf mould", "leafmould", "humus", "manure", "wood fibre", "sphagnum"}

// mostOrganic is the share of a mix that may be organic, per cent: growers find seedlings die with more (a setting of habit).
const mostOrganic = 5

// Objection is what to say to a note that goes against the roots of these plants: an organic feed or urea, or a mix that is more than
// 5 % organic. Empty: nothing. The note is kept all the same; what was done was done.
func Objection(n sensors.Note) string {
	detail := strings.ToLower(n.Detail)
	switch n.What {
	case sensors.Fed, sensors.Dressed:
		for _, word := range organicFeeds {
			if strings.Contains(detail, word) && !strings.Contains(detail, "no "+word) && !strings.Contains(detail, "inorganic") {
				return fmt.Sprintf("Noted, but not advised: %s. These roots live in mineral mixes with few of the fungi and bacteria that break such feed down; it turns sour in a cool pot and growers lose plants to it. A weak mineral feed without urea is what they use.", word)
			}
		}
	case sensors.Repotted:
		if share, ok := OrganicShare(detail); ok && share > mostOrganic {
			return fmt.Sprintf("Noted, but not advised: a mix %g %% organic. Over %d %% round the roots holds water through a cold winter and rots; growers keep to mineral mixes.", share, mostOrganic)
		}
	}
	return ""
}

var shareOf = regexp.MustCompile(`([0-9]+(?:\.[0-9]+)?)\s*(?:%|per cent|percent)\s*(?:of\s+)?((?:[a-z]+\s?){1,3})`)

// OrganicShare adds up the organic per cents a mix's words name ("80 % pumice, 20 % bark"); ok is false when an organic part is named
// without its share, or none is named.
func OrganicShare(mix string) (share float64, ok bool) {
	mix = strings.ToLower(mix)
	for _, m := range shareOf.FindAllStringSubmatch(mix, -1) {
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			continue
		}
		for _, word := range organicMix {
			if strings.Contains(m[2], word) {
				share, ok = share+v, true
				break
			}
		}
	}
	return share, ok
}

// FeedLines are the season's feeding in words, a line a pot that was fed or dressed, and the mixes that are too organic.
func FeedLines(w *review.Winter, g *garden.Garden, plan Plan) []string {
	var out []string
	for i := range w.Pots {
		p := &w.Pots[i]
		hunger := ""
		if plant := g.Plant(p.Plant); plant != nil {
			hunger = plant.Hunger
		}
		if share, ok := OrganicShare(p.Mix); ok && share > mostOrganic {
			out = append(out, fmt.Sprintf("%s stands in a mix %g %% organic; over %d %% is not advised for these roots.", p.ID, share, mostOrganic))
		}
		if p.Dressed == 0 && len(p.Feeds) == 0 {
			continue
		}
		out = append(out, plan.FedOf(w, p, hunger).String())
	}
	return out
}

// String says what a pot was given.
func (f Fed) String() string {
	n := f.N()
	s := fmt.Sprintf("%s: %.0f mg of nitrogen a litre of pot", f.Pot, n[0])
	if n[1]-n[0] >= 1 {
		s = fmt.Sprintf("%s: %.0f to %.0f mg of nitrogen a litre of pot", f.Pot, n[0], n[1])
	}
	s += fmt.Sprintf(" (granules %.0f, liquid %.0f); %d liquid feeds of %d by the plan of one every %d days to the flower", f.Granules[0], f.Liquid, f.Feeds, f.Due, f.Every)
	if f.AfterStop > 0 {
		s += fmt.Sprintf(", %d of them after it", f.AfterStop)
	}
	if f.Assumed {
		s += "; amounts that were not noted are the plan's"
	}
	return s + "."
}
