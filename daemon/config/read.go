package config

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// many lists the blocks a file may have many of.
var many = []string{"place", "plant", "pot", "probe"}

// block reads one block into the garden.
func (r *reader) block(b *block) {
	if !slices.Contains(many, b.kind) {
		single := strings.TrimSpace(b.kind + " " + b.named)
		if first := r.seen[single]; first > 0 {
			r.find(&table.Error{Path: b.raw.Path, Line: b.header, Say: fmt.Sprintf("this block is written twice: put its keys together at line %d", first)})
			return
		}
		r.seen[single] = b.header
	}
	switch b.kind {
	case "site":
		r.site(b)
	case "place":
		r.place(b)
	case "plant":
		r.plant(b)
	case "pot":
		r.pot(b)
	case "probe":
		r.probe(b)
	case "feed":
		r.feed(b)
	case "rule":
		r.garden.Rules = append(r.garden.Rules, b.raw)
		r.own(r.options.Rule, b.raw)
	case "push":
		r.garden.Push = append(r.garden.Push, b.raw)
		r.own(r.options.Way, b.raw)
	case "influx":
		r.garden.Services.Influx = b.raw
	default:
		r.service(b)
	}
}

func (r *reader) own(judge func(table.Raw) error, raw table.Raw) {
	if judge != nil {
		r.find(judge(raw))
	}
}

// id checks a block's id and remembers where the block is.
func (r *reader) id(b *block, id string) {
	switch {
	case id == "":
		r.find(b.raw.Errorf("", "it has no id: write id = \"...\", letters, digits and hyphens"))
		return
	case !garden.SafeID(id):
		r.find(b.raw.Errorf("id", "%q: write letters, digits and hyphens only, at most 40: %q", id, safer(id)))
	}
	if b.kind == "site" {
		return
	}
	key := b.kind + " " + id
	if first, twice := r.raws[key]; twice {
		r.find(b.raw.Errorf("id", "%q is taken by the block at line %d: write another", id, first.Line-1))
		return
	}
	r.raws[key] = b.raw
}

func (r *reader) site(b *block) {
	var k siteKeys
	err := table.DecodeGood(b.raw, &k)
	r.find(err)
	r.id(b, k.ID)
	s := &r.garden.Site
	*s = garden.Site{ID: k.ID, Name: k.Name, Latitude: math.NaN(), Longitude: math.NaN(), Altitude: float64(k.Altitude), Zone: time.UTC, Every: 5 * time.Minute,
		Clock: k.Clock, Fahrenheit: k.Degrees == "F"}
	for _, c := range []struct {
		key  string
		v    *float64
		max  float64
		want string
		dst  *float64
	}{{"latitude", k.Latitude, 90, "-90 (south pole) to 90", &s.Latitude}, {"longitude", k.Longitude, 180, "-180 to 180 (east is positive)", &s.Longitude}} {
		if c.v != nil && !(math.Abs(*c.v) <= c.max) {
			r.find(b.raw.Errorf(c.key, "%v degrees is not on the globe: write %s", *c.v, c.want))
		} else if c.v != nil {
			*c.dst = *c.v
		}
	}
	if k.Every != nil {
		s.Every = k.Every.Duration()
		if s.Every < time.Minute || s.Every > time.Hour || time.Hour%s.Every != 0 {
			r.find(b.raw.Errorf("every", "%v does not divide an hour or is outside 1 min to 60 min: write \"1 min\", \"5 min\", \"10 min\", \"15 min\", \"30 min\" or \"60 min\"", *k.Every))
		}
	}
	r.zone(b, k.Zone)
	r.said(b, [2]string{"name", k.Name})
	r.choice(b, "clock", k.Clock, "", "trust")
	r.choice(b, "degrees", k.Degrees, "", "C", "F")
}

func (r *reader) zone(b *block, name string) {
	zone, err := time.LoadLocation(name)
	switch {
	case name == "":
		r.find(b.raw.Errorf("", "it has no zone: write zone = \"Europe/Dublin\" or the like; without it the days cannot be cut"))
	case err != nil || name == "Local":
		r.find(b.raw.Errorf("zone", "%q is not in the time zone database: write a name like \"Europe/Dublin\" or \"UTC\"", name))
	default:
		r.garden.Site.Zone = zone
	}
}

// longestName is how many characters a name may have.
const longestName = 200

// said checks names that people read on pages and in messages: a line break or another control character in one would break the
// line it stands in, and is always a slip.
func (r *reader) said(b *block, names ...[2]string) {
	for _, n := range names {
		if !utf8.ValidString(n[1]) || utf8.RuneCountInString(n[1]) > longestName || strings.ContainsFunc(n[1], unicode.IsControl) {
			r.find(b.raw.Errorf(n[0], "%.40q holds a line break or control character, or is too long: write one line of at most %d characters", n[1], longestName))
		}
	}
}

// choice refuses a word that is none of known; "" among them means it may be left out.
func (r *reader) choice(b *block, key, got string, known ...string) bool {
	if slices.Contains(known, got) {
		return true
	}
	known = slices.DeleteFunc(known, func(s string) bool { return s == "" })
	r.find(b.raw.Errorf(key, "%q is not known: %s", got, table.Advice(got, known)))
	return false
}

func (r *reader) place(b *block) {
	var k placeKeys
	r.find(table.DecodeGood(b.raw, &k))
	r.id(b, k.ID)
	r.said(b, [2]string{"name", k.Name}, [2]string{"facing", k.Facing})
	r.garden.Places = append(r.garden.Places, garden.Place{ID: k.ID, Name: k.Name, Roof: k.Roof, Shaded: k.Shaded, Facing: k.Facing, Line: b.header})
}

func (r *reader) plant(b *block) {
	var k plantKeys
	r.find(table.DecodeGood(b.raw, &k))
	r.id(b, k.ID)
	r.said(b, [2]string{"name", k.Name})
	p := garden.Plant{ID: k.ID, Name: k.Name, Regime: k.Regime, Hunger: k.Hunger, Line: b.header}
	r.regime(b, k.Regime)
	if r.choice(b, "earliness", k.Earliness, "", "early", "middle", "late") && k.Earliness != "" {
		r.find(p.Earliness.UnmarshalText([]byte(k.Earliness)))
	}
	if r.choice(b, "tender", k.Tender, "", "hardy", "tender", "never-freeze") && k.Tender != "" {
		r.find(p.Tender.UnmarshalText([]byte(k.Tender)))
	}
	r.choice(b, "hunger", k.Hunger, "", "modest", "usual", "hungry")
	r.garden.Plants = append(r.garden.Plants, p)
}

// regime may be left out: the program then asks, and says nothing about the pot's water in winter until it is answered.
func (r *reader) regime(b *block, name string) {
	known := []string{""}
	for _, g := range garden.Regimes {
		known = append(known, g.Name)
	}
	r.choice(b, "regime", name, known...)
}

func (r *reader) pot(b *block) {
	var k potKeys
	r.find(table.DecodeGood(b.raw, &k))
	r.id(b, k.ID)
	r.regime(b, k.Regime)
	r.said(b, [2]string{"mix", k.Mix})
	r.choice(b, "material", k.Material, "", "plastic", "clay")
	if k.Volume < 0 || k.Volume > 200_000 {
		r.find(b.raw.Errorf("volume", "%v is not a pot's volume: write one from \"50 mL\" to \"200 L\"", k.Volume))
	}
	since, err := when(k.Since, r.garden.Site.Zone)
	if err != nil {
		r.find(b.raw.Errorf("since", "%w", err))
	}
	r.garden.Pots = append(r.garden.Pots, garden.Pot{ID: k.ID, Plant: k.Plant, Place: k.Place, Regime: k.Regime, Litres: k.Volume, Clay: k.Material == "clay", Mix: k.Mix,
		Relatives: k.Relatives, Faster: k.Faster, Like: k.Like, Since: since, Line: b.header})
}

// months checks a list of twelve.
func (r *reader) months(b *block, key string, n int) bool {
	if n != 12 {
		r.find(b.raw.Errorf(key, "%d values: write twelve, January first, each with its unit", n))
	}
	return n == 12
}

func (r *reader) normals(b *block) {
	var k normalsKeys
	if err := table.DecodeGood(b.raw, &k); err != nil {
		r.find(err)
		return
	}
	var n garden.Normals
	if r.months(b, "mean", len(k.Mean)) {
		for i, m := range k.Mean {
			n.Mean[i] = m.Celsius()
		}
	}
	if len(k.Spread) > 0 && r.months(b, "spread", len(k.Spread)) {
		for i, d := range k.Spread {
			n.Spread[i] = units.MilliCelsius(d).Celsius()
		}
	}
	r.garden.Normals = &n
}
