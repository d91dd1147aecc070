package ical

import (
	"context"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// Windows of the two moves in season days: 18 October to 15 November and 20 March to 20 April, shifted in the south. Growers' habit,
// settings of nobody: guesses that only stand in the calendar.
var (
	movingIn  = [2]garden.Date{47, 75}
	movingOut = [2]garden.Date{200, 231}
)

// batteryDay is 1 October, shifted in the south: cells are changed before the cold and not in it.
const batteryDay = 30

// waterAhead is how many days ahead an expected watering is put down; further out it is only a guess about the weather.
const waterAhead = 21

// Events are the coming days as the Standing sees them, in a fixed order.
func Events(st *alerts.Standing) []Event {
	if st == nil || st.Garden == nil {
		return nil
	}
	if st.Season == 0 { // no day has been lived through yet: the clock alone says which season it is
		if st.At.IsZero() {
			return nil
		}
		now := *st
		now.Day = now.Cal.DateOf(now.At)
		now.Season = now.Cal.Season(now.Day)
		st = &now
	}
	site := st.Garden.Site.ID
	uid := func(parts ...any) string {
		return strings.TrimSuffix(strings.ToLower(strings.Join(strings.Fields(fmt.Sprint(parts...)), "-")), "-") + "@" + site + ".lathwatch"
	}
	start := st.Cal.SeasonStart(st.Season)
	sunday := start
	for (sunday+4)%7 != 0 { // 1 January 1970 was a Thursday
		sunday++
	}
	all := []Event{{UID: uid("weekly-look ", st.Season), Summary: "Look at the pots", About: "The weekly look: labels, slugs, weights. The weekly line comes the same morning.",
		First: sunday, Last: sunday, Weekly: true, Until: st.Cal.SeasonStart(st.Season+1) - 1}}
	if hasBatteries(st.Garden) {
		all = append(all, Event{UID: uid("batteries ", st.Season), Summary: "Change batteries before the cold", About: "Cells sag in frost; a change in autumn saves one in January.", First: start + batteryDay, Last: start + batteryDay + 13})
	}
	all = append(all, moves(st, uid, start)...)
	for i := range st.Pots {
		p := &st.Pots[i]
		if !p.Gone.IsZero() {
			continue
		}
		if e, ok := dress(st, p); ok {
			e.UID = uid("dress ", p.Pot.ID, " ", st.Season)
			all = append(all, e)
		}
		if e, ok := water(st, p); ok {
			e.UID = uid("water ", p.Pot.ID)
			all = append(all, e)
		}
	}
	return all
}

func hasBatteries(g *garden.Garden) bool {
	return slices.ContainsFunc(g.Probes, func(p garden.Probe) bool { return p.Measures == garden.Battery })
}

func moves(st *alerts.Standing, uid func(...any) string, start garden.Date) []Event {
	roof := slices.ContainsFunc(st.Garden.Places, func(p garden.Place) bool { return p.Roof })
	open := slices.ContainsFunc(st.Garden.Places, func(p garden.Place) bool { return !p.Roof })
	var dry []string
	for i := range st.Pots {
		if p := &st.Pots[i]; p.Gone.IsZero() && p.Regime != nil && (p.Regime.Name == "dry-winter" || p.Regime.Name == "bone-dry") {
			dry = append(dry, p.Pot.ID)
		}
	}
	if !roof || !open || len(dry) == 0 {
		return nil
	}
	about := "Pots: " + strings.Join(dry, ", ") + ". The days are growers' habit, a guess; go by the weight of the pots, rain and frost."
	return []Event{{UID: uid("move-in ", st.Season), Summary: "Dry-winter pots go under the roof", About: about, First: start + movingIn[0], Last: start + movingIn[1]},
		{UID: uid("move-out ", st.Season), Summary: "Pots go back to the wall", About: about, First: start + movingOut[0], Last: start + movingOut[1]}}
}

// dress is the fortnight before the early edge of a plant's window.
func dress(st *alerts.Standing, p *alerts.PotStanding) (Event, bool) {
	if !p.Dressed.IsZero() || p.BreakHow == "" {
		return Event{}, false
	}
	edge := p.Break[0]
	if edge == 0 {
		if !p.EdgeDays.OK {
			return Event{}, false
		}
		edge = st.Day + garden.Date(p.EdgeDays.Mid()+0.5)
	}
	return Event{Summary: "Dress " + called(p) + " with granules", First: edge - 14, Last: edge,
		About: "Granules by the label and one soak, keeping pellets from pets: the first nose may show from " + edge.String() + " on (" + p.BreakHow + ")."}, true
}

// water is when the pot is expected to come to its limit.
func water(st *alerts.Standing, p *alerts.PotStanding) (Event, bool) {
	if !p.DaysLeft.OK || p.DaysLeft.Low > waterAhead {
		return Event{}, false
	}
	first := st.Day + garden.Date(p.DaysLeft.Low)
	last := min(st.Day+garden.Date(p.DaysLeft.High+0.5), first+6)
	return Event{Summary: "Water " + called(p) + ", expected", First: first, Last: max(first, last), About: "By how it has dried so far; the message on the day is what counts."}, true
}

func called(p *alerts.PotStanding) string {
	if p.Plant != nil && p.Plant.Name != "" {
		return p.Pot.ID + " (" + p.Plant.Name + ")"
	}
	return p.Pot.ID
}

// A Memory keeps a whole number by name.
type Memory interface {
	Mark(ctx context.Context, name string) (int64, bool, error)
	SetMark(ctx context.Context, name string, value int64) error
}

// Sequenced gives each event its sequence: one more than last time when it differs from what was told then.
func Sequenced(ctx context.Context, m Memory, events []Event) ([]Event, error) {
	for i := range events {
		e := &events[i]
		h := fnv.New32a()
		fmt.Fprintf(h, "%s\x00%s\x00%d\x00%d\x00%t\x00%d", e.Summary, e.About, e.First, e.Last, e.Weekly, e.Until)
		sum, name := int64(h.Sum32()), "calendar "+e.UID
		was, ok, err := m.Mark(ctx, name)
		if err != nil {
			return nil, fmt.Errorf("looking up what the calendar said last: %w", err)
		}
		e.Sequence = int(was >> 32)
		if ok && was&0xffffffff == sum {
			continue
		}
		if ok {
			e.Sequence++
		}
		if err := m.SetMark(ctx, name, int64(e.Sequence)<<32|sum); err != nil {
			return nil, fmt.Errorf("keeping what the calendar says: %w", err)
		}
	}
	return events, nil
}

// Of is the calendar of a Standing.
func Of(ctx context.Context, st *alerts.Standing, m Memory) (Feed, error) {
	f := Feed{Name: "Lathwatch", Product: "-//Lathwatch//Garden days//EN", Stamp: time.Unix(0, 0)}
	if st == nil || st.Garden == nil {
		return f, nil
	}
	if f.Stamp = st.At; st.Garden.Site.Name != "" {
		f.Name = st.Garden.Site.Name
	}
	var err error
	f.Events, err = Sequenced(ctx, m, Events(st))
	return f, err
}
