package garden

import (
	"time"

	"lathwatch/sensors/units"
)

// Feeding is the keeper's way of feeding. Its zero value is growers' habit; growers disagree by ten, so every figure of it is a guess
// until the keeper sets it, and the label and local law come before all of them.
type Feeding struct {
	Granules      float64 // given, g per litre of pot; 0: 2, a third to half of the nursery standard
	GranulesLabel float64 // the most the label allows, g per litre; 0: not said
	GranulesN     float64 // nitrogen of the granules, per cent; 0: 15
	Soak          float64 // liquid feed given at once, mL per litre of pot; 0: 300
	Liquid        float64 // its nitrogen as given, mg/L; 0: 100, less where the label's most is less
	LiquidLabel   float64 // the most of the bottle or packet in a litre of water the label allows, mL or g; 0: not said
	LiquidN       float64 // nitrogen in the bottle or packet, per cent; 0: not said
	Modest        FeedGroup
	Usual         FeedGroup
	Hungry        FeedGroup
}

// A FeedGroup is what holds for the plants of one feed hunger. The zero value is growers' habit.
type FeedGroup struct {
	Every int      // days between liquid feeds; 0: 28, 14 or 10 by hunger
	Feeds int      // liquid feeds planned for a season; 0: as many as the interval fits between opening and the stop
	Until MonthDay // fed until this day whether in flower or not; zero: until the noted flower, 1 August at the latest
}

// A MonthDay is a day of every year by the site's own calendar; the zero value is none.
type MonthDay struct {
	Month time.Month
	Day   int
}

// Growers' habit (guesses): see Feeding.
const (
	usualGranules  = 2
	usualGranulesN = 15
	usualSoak      = 300
	usualLiquid    = 100
	feedStops      = 334 // day of the plants' year, 1 August, shifted in the south
)

// Full puts growers' habit in the place of everything the keeper left open.
func (f Feeding) Full() Feeding {
	or := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	or(&f.Granules, usualGranules)
	or(&f.GranulesN, usualGranulesN)
	or(&f.Soak, usualSoak)
	or(&f.Liquid, usualLiquid)
	if most := f.LiquidMost(); most > 0 {
		f.Liquid = min(f.Liquid, most)
	}
	for _, g := range []struct {
		group *FeedGroup
		days  int
	}{{&f.Modest, 28}, {&f.Usual, 14}, {&f.Hungry, 10}} {
		if g.group.Every == 0 {
			g.group.Every = g.days
		}
	}
	return f
}

// LiquidMost is the nitrogen of the label's strongest solution, mg/L; 0 when the label is not written down. A millilitre is taken as
// a gram.
func (f Feeding) LiquidMost() float64 { return f.LiquidLabel * f.LiquidN * 10 }

// Bottle is how much of the bottle or packet goes into a litre of water for the strength in force, mL or g; 0 when it is not known.
func (f Feeding) Bottle() float64 {
	if f.LiquidN <= 0 {
		return 0
	}
	return f.Full().Liquid / (f.LiquidN * 10)
}

// Rate is what a litre of pot is given in granules, g: never more than the label allows. label says that the label holds it down.
func (f Feeding) Rate() (gPerL float64, label bool) {
	full := f.Full()
	if full.GranulesLabel > 0 && full.GranulesLabel < full.Granules {
		return full.GranulesLabel, true
	}
	return full.Granules, false
}

// Dose is the granules for a pot, g; ok is false without a volume.
func (f Feeding) Dose(litres units.Volume) (grams float64, ok bool) {
	rate, _ := f.Rate()
	return rate * litres.Litres(), litres > 0
}

// Group is what holds for a plant of a hunger, filled with growers' habit; an unknown hunger is the usual one.
func (f Feeding) Group(hunger string) FeedGroup {
	full := f.Full()
	switch hunger {
	case "modest":
		return full.Modest
	case "hungry":
		return full.Hungry
	}
	return full.Usual
}

// LastDay is the last day liquid feed is given in a season, whether or not the plant has flowered.
func (g FeedGroup) LastDay(c Calendar, season int) Date {
	first := c.SeasonStart(season)
	if g.Until == (MonthDay{}) {
		return first + feedStops
	}
	y, _, _ := first.Civil()
	if d := dateOf(y, g.Until.Month, g.Until.Day); d >= first {
		return d
	}
	return dateOf(y+1, g.Until.Month, g.Until.Day)
}

// Stop is the first day without liquid feed: the day of the noted flower where the group stops there, the day after the last day
// otherwise. flower 0 is none noted.
func (g FeedGroup) Stop(c Calendar, season int, flower Date) Date {
	stop := g.LastDay(c, season) + 1
	if g.Until == (MonthDay{}) && flower != 0 {
		return min(stop, flower)
	}
	return stop
}

// Set reports whether the keeper wrote anything of the way of feeding down.
func (f Feeding) Set() bool { return f != Feeding{} }

// OrganicMost is the share of a mix that may be organic, per cent: growers find seedlings die with more (growers' habit, a guess).
const OrganicMost = 5
