package alerts

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors/units"
)

// This file holds the words of every message. A message is one sentence that names place and plants, one thing to do, and why in
// one clause. No jargon; guesses are called guesses.

// many is how many pots are named one by one before the rest is only counted.
const many = 12

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
	return AtPlace(p.Place.Name)
}

// AtPlace gives "at the shelter table" by a place's name, which may begin with such a word itself.
func AtPlace(name string) string {
	switch first, _, _ := strings.Cut(name, " "); first {
	case "under", "at", "by", "beside", "behind", "in", "on", "against", "along", "below":
		return name
	}
	return "at " + name
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

// depth writes rain in mm, or inches where the site has °F.
func (st *Standing) depth(mm float64) string {
	if st.Garden.Site.Fahrenheit {
		return fmt.Sprintf("%.1f in", mm/25.4)
	}
	return fmt.Sprintf("%.0f mm", mm)
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

// SayWater words a full watering. In growth it also says how long it will last: the keeper's habit waters, the message serves it.
func SayWater(g Group) string {
	f := g.Items[0].Facts
	lo, hi, low, soon, days := f.Amount, f.Amount, 0, 0, f.Count
	for _, it := range g.Items {
		lo, hi = min(lo, it.Facts.Amount), max(hi, it.Facts.Amount)
		if it.Ripe >= 1 {
			low++
		} else {
			soon++
		}
		if it.Facts.Count > 0 && (days == 0 || it.Facts.Count < days) {
			days = it.Facts.Count
		}
	}
	limit := percent(units.PerMilleFull(f.Low))
	why := fmt.Sprintf("down to %s of drained-full, under the limit of %s (a guess)", percent(f.Wet), limit)
	if percent(f.Wet) == limit {
		why = fmt.Sprintf("down to its limit of %s of drained-full (a guess)", limit)
	}
	switch {
	case low > 1 && soon == 0:
		why = fmt.Sprintf("all under %s of drained-full, the limit (a guess)", limit)
	case low == 0:
		why = fmt.Sprintf("soon down to %s of drained-full, the limit (a guess)", limit)
	case soon > 0:
		why = fmt.Sprintf("%d under %s of drained-full, the limit (a guess), and the %s soon", low, limit, plural(soon, "other", "others"))
	}
	amount := g.St.amount(lo)
	if lo != hi {
		amount += " to " + g.St.amount(hi)
	}
	again := ""
	if days > 0 {
		again = fmt.Sprintf(" and again %s while this weather lasts", plural(days, "every day", fmt.Sprintf("every %d days", days)))
	}
	each := ""
	if len(g.Items) > 1 || g.alike() != "" {
		each = " a pot"
	}
	return fmt.Sprintf("Water %s%s %s, about %s%s%s: %s.", g.who(), g.alike(), g.where(), amount, each, again, why)
}

// fasterFrom is the learnt ratio from which a pot that is said to dry alike is looked at first (a guess).
const fasterFrom = 1.25

// alike names the pots a group's pots speak for, and which of them to look at first.
func (g Group) alike() string {
	var like, first []string
	named := g.Pots()
	add := func(to []string, ids []string) []string {
		for _, id := range ids {
			if !slices.Contains(named, id) && !slices.Contains(like, id) && !slices.Contains(first, id) && !slices.Contains(to, id) {
				to = append(to, id)
			}
		}
		return to
	}
	for _, it := range g.Items {
		if p := g.St.pot(it.Subject); p != nil {
			for _, id := range p.Pot.Relatives { // measured themselves, they speak for themselves
				if r := g.St.pot(id); r != nil && r.WetnessOK {
					continue
				}
				if r, ok := g.St.DryRatio(id, p.Pot.ID); ok && r.Times >= fasterFrom {
					first = add(first, []string{id})
				} else {
					like = add(like, []string{id})
				}
			}
			first = add(first, p.Pot.Faster)
		}
	}
	switch {
	case len(like) > 0 && len(first) > 0:
		return fmt.Sprintf(" and the pots that dry like %s (%s, not measured; look at %s first)", plural(len(g.Items), "it", "them"), names(like), names(first))
	case len(first) > 0:
		return " (look at " + names(first) + " first, which " + plural(len(first), "dries", "dry") + " faster)"
	case len(like) > 0:
		return fmt.Sprintf(" and the pots that dry like %s (%s, not measured)", plural(len(g.Items), "it", "them"), names(like))
	}
	return ""
}

// SayTooWet words a resting pot that does not dry.
func SayTooWet(g Group) string {
	f := g.Items[0].Facts
	do := "Tilt " + g.who() + " " + g.where() + " so that water drains off and air comes through"
	if f.Word != "" {
		do = "Move " + g.who() + " from " + g.from() + " under " + strings.TrimPrefix(f.Word, "under ")
	}
	return fmt.Sprintf("%s: over %s of drained-full for %d thawed days, and roots that rest wet in the cold may rot (the limit is a guess).",
		do, percent(units.PerMilleFull(f.High)), f.Count)
}

// SayLeak words water that came under a roof from nobody's can.
func SayLeak(g Group) string {
	f := g.Items[0].Facts
	why := fmt.Sprintf("it rose from %s to %s with no watering noted", percent(units.PerMilleFull(f.Low)), percent(units.PerMilleFull(f.High)))
	if len(g.Items) > 1 {
		why = "they rose by 8 points and more within hours with no watering noted"
	}
	if f.Count > 0 {
		why += fmt.Sprintf(" while %s stayed as %s", plural(f.Count, "the pot near it", fmt.Sprintf("%d others", f.Count)), plural(f.Count, "it was", "they were"))
	}
	if f.Word != "" {
		why += ", and there was " + f.Word
	}
	return fmt.Sprintf("Look up above %s %s for a drip, then move %s aside and tilt %s to drain: %s.", g.who(), g.where(),
		plural(len(g.Items), "it", "them"), plural(len(g.Items), "it", "them"), why)
}

// SayDrainCheck words a growing pot that stays full.
func SayDrainCheck(g Group) string {
	return fmt.Sprintf("Look at the drain %s of %s %s: full for %d warm days, and growing roots want air.",
		plural(len(g.Items), "hole", "holes"), g.who(), g.where(), g.Items[0].Facts.Count)
}

// SayProbeOut words a probe in open air.
func SayProbeOut(g Group) string {
	return fmt.Sprintf("Put the %s of %s %s back, or note that you repotted: since %s %s tell of the air and not of the pot.",
		plural(len(g.Items), "probe", "probes"), g.who(), g.where(), g.St.hour(g.Items[0].Facts.From), plural(len(g.Items), "it seems to", "they seem to"))
}

// SayMoved asks where a pot stands.
func SayMoved(g Group) string {
	other := Group{St: g.St, Place: g.Items[0].Facts.Word}
	return fmt.Sprintf("Tell me where %s %s: %s by my book, but for three nights %s followed the air %s.",
		g.who(), plural(len(g.Items), "stands", "stand"), g.where(), plural(len(g.Items), "its temperature has", "their temperatures have"), other.where())
}

// SayWhichRegime asks how a pot is to be watered in its rest.
func SayWhichRegime(g Group) string {
	return fmt.Sprintf("Tell me how %s %s %s in winter, dry or wet: until then I say nothing about %s water.",
		g.who(), g.where(), plural(len(g.Items), "rests", "rest"), plural(len(g.Items), "its", "their"))
}

// SaySitterWater asks the sitter for one visit more.
func SaySitterWater(g Group) string {
	var read, guessed []string
	add := func(to *[]string, pot string) {
		p := g.St.pot(pot)
		if p == nil {
			return
		}
		where := Group{St: g.St, Place: p.Place}.where()
		if !slices.Contains(read, where) && !slices.Contains(*to, where) {
			*to = append(*to, where)
		}
	}
	for _, it := range g.Items {
		add(&read, it.Subject)
	}
	amount := g.Items[0].Facts.Amount
	for _, it := range g.Items {
		amount = max(amount, it.Facts.Amount)
		for _, id := range it.Pots {
			add(&guessed, id)
		}
	}
	f := g.Items[0].Facts
	places := names(read)
	if len(guessed) > 0 {
		places += fmt.Sprintf(", and %s, not measured and taken to be as dry", names(guessed))
	}
	slowly, why := "", "in this heat they would be too dry by then"
	for _, it := range g.Items {
		if !it.Facts.Poured.IsZero() {
			slowly, why = ", slowly and in two goes", "the water of "+g.St.day(it.Facts.Poured)+" does not show there and may have run past dry soil"
		}
	}
	return fmt.Sprintf("Please come on %s as well as on %s and give about %s to each pot %s%s: %s.",
		g.St.day(f.From), g.St.day(f.Until), g.St.amount(amount), places, slowly, why)
}

// SayWaterUnseen words a watering that was noted and does not show: a line of the digest, and no reproach.
func SayWaterUnseen(g Group) string {
	return fmt.Sprintf("Look at %s %s: the watering noted on %s hardly shows, so water may have run past dry soil or %s lost touch with it.",
		g.who(), g.where(), g.St.day(g.Items[0].Facts.From), plural(len(g.Items), "the probe has", "the probes have"))
}

// SayProbeSilent words a wire whose probes do not answer: a line of the digest.
func SayProbeSilent(g Group) string {
	f := g.Items[0].Facts
	n := len(f.Names)
	if f.Word == "import" {
		return fmt.Sprintf("Look at %s: %s not answered for hours.", names(f.Names), plural(n, "it has", "they have"))
	}
	return fmt.Sprintf("Look at the wire of %s: %d of its %d probes (%s) %s not answered for hours.", f.Word, n, f.Count, names(f.Names), plural(n, "has", "have"))
}

// SayBattery words a cell that runs out.
func SayBattery(g Group) string {
	return fmt.Sprintf("Change the battery of %s%s: its charge is low in mild air as well, and frost will take the rest.", g.Items[0].Facts.Word, g.at())
}

// SayClock words a clock nobody vouches for.
func SayClock(g Group) string {
	return "Set the board's clock or connect it to a network: " + because(g, "its time is not to be trusted, and readings cannot be dated") + "."
}

// SayStorage words a store that takes nothing.
func SayStorage(g Group) string {
	return "Look at the board's card: " + because(g, "readings cannot be written and are kept in memory only") + "."
}

// SayBrokerSilent words a message broker that takes nothing.
func SayBrokerSilent(g Group) string {
	return "Look at the message broker: " + because(g, "it has taken no message for hours") + "."
}

func because(g Group, otherwise string) string {
	if w := strings.TrimSuffix(g.Items[0].Facts.Word, "."); w != "" {
		return strings.ToLower(w[:1]) + w[1:]
	}
	return otherwise
}

// at gives " at the wall", or nothing where the place is not known.
func (g Group) at() string {
	if g.St.place(g.Place) == nil {
		return ""
	}
	return " " + g.where()
}

// from gives a place's bare name.
func (g Group) from() string {
	if p := g.St.place(g.Place); p != nil && p.Place.Name != "" {
		return strings.TrimPrefix(strings.TrimPrefix(p.Place.Name, "at "), "under ")
	}
	return "where it stands"
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
	for _, it := range g.Items {
		if it.Facts.Temp-it.Facts.Limit < f.Temp-f.Limit {
			f = it.Facts
		}
	}
	core := "the core is at %s, past the limit of %s (a guess)"
	if len(g.Items) > 1 {
		core = "the worst core is at %s, past its limit of %s (a guess)"
	}
	return fmt.Sprintf("Shelter the roots of %s %s with fleece, straw or a move indoors to a cold place: "+core+".",
		g.who(), g.where(), g.St.degrees(f.Temp), g.St.degrees(f.Limit))
}

// SayProbeCheck asks for a look at a moisture probe that shows no thaw.
func SayProbeCheck(g Group) string {
	n := len(g.Items)
	return fmt.Sprintf("Lift %s %s and tell me whether %s heavy or light: %s no thaw after three days above %s and may be harmed.",
		g.who(), g.where(), plural(n, "it is", "they are"), plural(n, "its moisture probe shows", "their moisture probes show"), g.St.degrees(2000))
}

// SayGap words a stretch without readings.
func SayGap(g Group) string {
	f, known := g.Items[0].Facts, "what happened in between is not known"
	if len(f.Names) > 0 {
		known = "of the time in between only what " + names(f.Names) + " kept is known"
	}
	return fmt.Sprintf("Look at the pots when you pass: there were no readings from %s to %s, and %s.", g.St.hour(f.From), g.St.hour(f.Until), known)
}

// The remedies a frost warning may name; the rule chooses, the words are here.
const (
	UnderShelter     = "shelter"
	ShelterAndFleece = "shelter and fleece"
	Fleece           = "fleece"
	Indoors          = "indoors"
)

// SayFrostTonight words the one warning of an evening: what to do with which pots of a place, and how cold it may get.
func SayFrostTonight(g Group) string {
	air := units.MilliCelsius(math.MaxInt64)
	by := map[string][]string{}
	for _, it := range g.Items {
		by[it.Facts.Word] = append(by[it.Facts.Word], it.Pots...)
		air = min(air, it.Facts.Temp)
	}
	at, doubt := g, ""
	if other := g.Items[0].Facts.Other; other != "" { // a pot from here seems to have been carried there
		at.Place = other
		doubt = "if these are " + at.where() + ", "
	}
	shelter := g.St.Shelter(at.Place)
	under := "the shelter"
	if shelter != nil {
		under = bare(shelter.Place.Name)
	}
	var do []string
	for _, r := range []struct{ remedy, say string }{
		{UnderShelter, "put %s back under " + under}, {ShelterAndFleece, "put %s back under " + under + " and under fleece"},
		{Fleece, "cover %s with fleece"}, {Indoors, "bring %s indoors to a cool place"}} {
		if ids := by[r.remedy]; len(ids) > 0 {
			do = append(do, fmt.Sprintf(r.say, joinAnd(ids)))
		}
	}
	sheltered := ""
	if shelter != nil && len(by[UnderShelter])+len(by[ShelterAndFleece])+len(by[Indoors]) > 0 {
		sheltered = ", " + g.St.degrees(milliOf(shelter.Expected.Mid())) + " under " + under
	}
	return fmt.Sprintf("%s%s: %s %s may come%s, leaves get colder still, and opened shoots do not bear it (limits are a guess%s).",
		g.again(), doubt+joinAnd(do), at.where(), g.St.degrees(air), sheltered, at.sure())
}

// again begins a frost warning: anew, or for the same pots as the evening before.
func (g Group) again() string {
	if g.BeforeAt.IsZero() || g.St.At.Sub(g.BeforeAt) > 36*time.Hour {
		return "Frost tonight: "
	}
	var same, others []string
	for _, id := range g.Pots() {
		if slices.Contains(g.Before, id) {
			same = append(same, id)
		} else {
			others = append(others, id)
		}
	}
	again := "Frost again tonight for the same " + count(len(same))
	if len(same) == 1 {
		again = "Frost again tonight for the same pot"
	}
	switch {
	case len(same) == 0:
		return "Frost tonight: "
	case len(others) > 0:
		return again + " and for " + joinAnd(others) + ": "
	case len(same) < len(g.Before):
		return "Frost again tonight for " + count(len(same)) + " of the last " + count(len(g.Before)) + ": "
	}
	return again + ": "
}

// sure says how tonight's figure is known where that is poor.
func (g Group) sure() string {
	at := g.St.place(g.Place)
	if at == nil {
		return ""
	}
	switch at.ExpectedHow {
	case HowFirst:
		return ", and so is the night's low in a first season"
	case HowFewNights:
		return ", and so is the night's low from few nights"
	case HowRough:
		return ", and the night's low is a rough one after a gap in the readings"
	case HowNeighbour, HowElsewhere:
		return ", and the night's low is taken from another place"
	}
	return ""
}

// bare gives "the shelter table" from whatever the place is called.
func bare(name string) string {
	for _, first := range []string{"under ", "at ", "by ", "beside ", "behind ", "in ", "on "} {
		if rest, ok := strings.CutPrefix(name, first); ok {
			return rest
		}
	}
	if name == "" {
		return "the shelter"
	}
	return name
}

// joinAnd names every one: where each pot must be carried, none may be left out.
func joinAnd(s []string) string {
	if len(s) < 2 {
		return strings.Join(s, "")
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}

// count gives small numbers as words.
func count(n int) string {
	words := [...]string{"none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

func milliOf(c float64) units.MilliCelsius { return units.MilliCelsius(math.Round(c * 1000)) }

// span gives a difference of temperature as the keeper reads it.
func (st *Standing) span(c float64) string {
	if st.Garden.Site.Fahrenheit {
		return fmt.Sprintf("%d °F", int(math.Round(c*9/5)))
	}
	return fmt.Sprintf("%d °C", int(math.Round(c)))
}

// SayDressNow words the spring's granules and first soak.
func SayDressNow(g Group) string {
	noses, guess := 0, false
	for _, it := range g.Items {
		if it.Facts.Word == "nose" {
			noses++
		}
		guess = guess || it.Facts.Guess
	}
	why := "the first noses may show in about two weeks (dates are a guess for the class)"
	switch {
	case noses == len(g.Items):
		why = plural(noses, "its nose is", "their noses are") + " up and no granules are noted"
	case noses > 0:
		why = "noses are up or due in about two weeks (dates are a guess for the class)"
	}
	return fmt.Sprintf("Dress %s %s with granules%s and soak once, keeping pellets from pets: %s.", g.who(), g.where(), g.dose(), why)
}

// dose says how many grams where the keeper has written a rate down; never without the label.
func (g Group) dose() string {
	feed := g.St.Garden.Feed
	if feed.Granules == 0 && feed.GranulesLabel == 0 {
		return " by the label's rate"
	}
	rate, held := feed.Rate()
	most := ", never over the label's rate,"
	if held {
		most = ", the label's most,"
	}
	each := -1.0
	for _, id := range g.Pots() {
		p := g.St.pot(id)
		if p == nil {
			continue
		}
		grams, ok := feed.Dose(p.Pot.Litres)
		if !ok || each >= 0 && grams != each {
			return fmt.Sprintf(", %.3g g for each litre of pot%s", rate, most)
		}
		each = grams
	}
	return fmt.Sprintf(", %.1f g a pot%s", each, most)
}

// SayHeatPocket words a shelter that has become a hothouse.
func SayHeatPocket(g Group) string {
	return fmt.Sprintf("Open or shade %s, where %s %s: by day it runs up to %s over the shaded wall and the pots follow (limits are a guess).",
		g.placeName(), g.who(), plural(len(g.Pots()), "stands", "stand"), g.St.span(g.Items[0].Facts.High))
}

// SayShieldSensor words a thermometer in the sun.
func SayShieldSensor(g Group) string {
	return fmt.Sprintf("Shield the air thermometer %s from the sun: it runs up to %s over the shaded wall by day while %s %s not (limits are a guess).",
		g.where(), g.St.span(g.Items[0].Facts.High), g.who(), plural(len(g.Pots()), "does", "do"))
}

// placeName gives the place as it is called.
func (g Group) placeName() string {
	if p := g.St.place(g.Place); p != nil && p.Place.Name != "" {
		return p.Place.Name
	}
	return "the place"
}

// SayRootHeat words heat at the roots.
func SayRootHeat(g Group) string {
	peak := g.Items[0].Facts.Temp
	for _, it := range g.Items {
		peak = max(peak, it.Facts.Temp)
	}
	return fmt.Sprintf("Shade the sides of %s %s and wet the floor round them: the roots have reached %s, more than they bear for long (the limit is a guess).",
		g.who(), g.where(), g.St.degrees(peak))
}

// SaySlugNight words a night that slugs like while noses are short.
func SaySlugNight(g Group) string {
	return fmt.Sprintf("Look for slugs by torch this evening at %s %s: the nights are mild and damp and short noses are eaten first (pellets can harm pets and wild animals: keep to the label and the law; the signs are a guess).",
		g.who(), g.where())
}

// SayOverdue words plants that are late.
func SayOverdue(g Group) string {
	why := "no nose is noted past the late end of the time guessed for the class"
	if g.Items[0].Facts.Word == "short" {
		why = "the rest was short this winter and a bud may wait a year"
	}
	return fmt.Sprintf("Feel for the %s of %s %s with a finger and keep the pot just moist, late is not dead: %s (a guess).",
		plural(len(g.Pots()), "nose", "noses"), g.who(), g.where(), why)
}

// SayHemisphere asks where the garden is.
func SayHemisphere(g Group) string {
	if g.Items[0].Facts.Word == "missing" {
		return "Write the garden's latitude into its file: without it, or so near the equator, nobody can tell its summer from its winter."
	}
	return "Is the garden's latitude right, or was the southern hemisphere meant (then write it with a minus), since its coldest months are those that should be summer?"
}

// soaked is the share of drained-full over which a pot goes in too wet to be left so (a guess).
const soaked = 850

// SayMoveIn words the move under the shelter.
func SayMoveIn(g Group) string {
	why, wet := "the rest has begun and they should go in no wetter than drained", units.PerMilleFull(0)
	for _, it := range g.Items {
		wet = max(wet, it.Facts.Wet)
		if it.Facts.Low > 0 {
			why = fmt.Sprintf("%s of rain fell in a week and soaked pots stay soaked through the rest", g.St.depth(it.Facts.Low))
		}
	}
	if wet > soaked {
		why += fmt.Sprintf("; the wettest is at %s, so tilt it to drain (limits are a guess)", percent(wet))
	}
	return fmt.Sprintf("Move %s, now %s, under the shelter before the winter rain: %s.", g.who(), g.where(), why)
}

// SayMoveOut words the move to the wall.
func SayMoveOut(g Group) string {
	to := g.Items[0].Facts.Word
	if to == "" {
		to = "the shaded wall"
	}
	chance := ""
	if f := g.Items[0].Facts; f.Low > 0 || f.High > 0 {
		for _, it := range g.Items {
			f.Low, f.High = max(f.Low, it.Facts.Low), max(f.High, it.Facts.High)
		}
		chance = fmt.Sprintf(", about %.0f %% there and %.0f %% where they are", 100*f.Low, 100*f.High)
	}
	return fmt.Sprintf("Move %s, now %s, to %s: a harmful night in the next two weeks has become unlikely%s (a guess).", g.who(), g.where(), bare(to), chance)
}

// SayFeedDue words the next weak feed.
func SayFeedDue(g Group) string {
	return fmt.Sprintf("Feed %s %s weakly by the label, into moist pots only: the plants grow and their usual days are over (the interval is a guess).", g.who(), g.where())
}

// SayFeedStop words the end of feeding.
func SayFeedStop(g Group) string {
	why := "flowering has begun"
	if g.Items[0].Facts.Word == "date" {
		why = "the season's last feeding day is past"
	}
	return fmt.Sprintf("Stop the liquid feed for %s %s and give rain water: %s (growers disagree, the day is a setting).", g.who(), g.where(), why)
}

// SayWeevilDrench words the weeks for nematodes.
func SayWeevilDrench(g Group) string {
	return fmt.Sprintf("If leaves were notched this summer, drench %s %s with nematodes by the label now and keep the pots moist: grubs are small and the pots still warm enough (a guess).",
		g.who(), g.where())
}

// SayRepotWindow words the weeks for repotting.
func SayRepotWindow(g Group) string {
	return fmt.Sprintf("Repot, divide and count %s %s now if you mean to: leaves are down, roots still grow, and the moisture probe goes back in with two new marks.", g.who(), g.where())
}

// SayIceBath asks for the autumn check of thermometers.
func SayIceBath(g Group) string {
	n := g.Items[0].Facts.Count
	return fmt.Sprintf("Hold %s in crushed melting ice for ten minutes before the frosts and note what %s: frost is judged by %s, and melting ice is %s.",
		plural(n, "the thermometer", fmt.Sprintf("the %d thermometers", n)), plural(n, "it reads", "each reads"), plural(n, "it", "them"), g.St.degrees(0))
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
	switch do := Sentence(st); {
	case do != "Nothing to do.":
		head = do + " " + capital(answered) + "."
	case len(lines) > 0:
		head = fmt.Sprintf("Nothing is pressing, but %d small %s for this week; %s.", len(lines), plural(len(lines), "thing", "things"), answered)
	}
	return strings.Join(slices.Concat([]string{head}, lines, st.Remarks), "\n")
}

// Sentence says in one line what the keeper should do now: the most urgent thing that stands.
func Sentence(st *Standing) string {
	if st.Garden == nil {
		return "No garden is configured yet."
	}
	for _, do := range sentences {
		var pots []string
		stands := false
		for _, a := range st.Alerts {
			if a.Kind == do.kind && !a.Seen && !st.At.Before(a.Later) {
				open := st.answered(&a)
				stands, pots = stands || len(open) > 0 || len(a.Pots) == 0, append(pots, open...)
			}
		}
		if stands {
			return strings.ReplaceAll(do.say, "POTS", names(pots))
		}
	}
	return "Nothing to do."
}

// sentences are the keeper's tasks, most urgent first; POTS stands for the pots. Every kind of the shelf has one.
var sentences = []struct{ kind, say string }{
	{"frost-tonight", "Shelter POTS from frost tonight."},
	{"root-heat", "Shade the sides of POTS."},
	{"heat-pocket", "Open or shade the shelter over POTS."},
	{"water", "Water POTS today."},
	{"water-light", "Water POTS lightly today."},
	{"sitter-water", "The sitter was asked to water POTS."},
	{"sitter-sheet", "The sitter has the sheet: nothing to do."},
	{"leak", "Look for a drip over POTS."},
	{"too-wet", "Get water out of POTS."},
	{"drain-check", "Look at the drain holes of POTS."},
	{"root-cold", "Shelter the roots of POTS."},
	{"warm-spell", "Shade and air POTS."},
	{"slug-night", "Look for slugs at POTS this evening."},
	{"dress-now", "Dress POTS with granules."},
	{"move-in", "Move POTS under the shelter."},
	{"move-out", "Move POTS out to the open."},
	{"probe-out", "Look at the probe of POTS: it may be out of the pot."},
	{"probe-check", "Lift POTS: heavy or light?"},
	{"moved", "Say where POTS stand now."},
	{"which-regime", "Say which winter regime POTS want."},
	{"hemisphere", "Look at the latitude in garden.toml."},
	{"overdue", "Feel for the noses of POTS."},
	{"storage", "Look at the card: the journal is in trouble."},
	{"clock", "Set the clock: readings wait for it."},
	{"broker-silent", "Look at the broker: it does not answer."},
	{"battery", "Change a probe's battery."},
	{"probe-silent", "Look at a probe's wire."},
	{"water-unseen", "Look at POTS: the last watering does not show."},
	{"shield-sensor", "Shade an air thermometer."},
	{"gap", "Look at the pots: readings were missing."},
	{"feed-due", "Feed POTS."},
	{"feed-stop", "Stop feeding POTS."},
	{"weevil-drench", "Think of a drench for POTS."},
	{"repot-window", "Repot POTS if you mean to."},
	{"ice-bath", "Check the thermometers in melting ice."},
}

// Tasked reports whether a kind has its words for the first line.
func Tasked(kind string) bool {
	return slices.ContainsFunc(sentences, func(s struct{ kind, say string }) bool { return s.kind == kind })
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
	case !p.Gone.IsZero():
		return "no longer here"
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
	"frost-tonight": "shelter from frost tonight", "heat-pocket": "open or shade", "root-heat": "shade the pot", "slug-night": "look for slugs",
	"dress-now": "dress now", "overdue": "late, not dead: feel for the nose", "move-in": "move under the shelter", "move-out": "move to the wall",
	"probe-check": "lift the pot", "leak": "look for a drip", "too-wet": "too wet: let it dry", "drain-check": "look at the drain hole",
	"water-unseen": "the last watering does not show", "probe-out": "put its probe back", "moved": "where does it stand?"}
