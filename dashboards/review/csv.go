package review

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"

	"lathwatch/sensors/garden"
)

// CSV writes every figure as one row: season, about, id, figure, date, low, high, unit. Times and dates are ISO 8601, numbers have a
// point, and what is not known has no row. Temperatures are in °C whatever the page shows.
func (r *Report) CSV(out io.Writer) error {
	c := csvWriter{w: csv.NewWriter(out)}
	c.row("season", "about", "id", "figure", "date", "low", "high", "unit")
	all := append(append([]*Winter{}, r.Others...), r.Winter)
	sortSeasons(all)
	for _, w := range all {
		c.season = strconv.Itoa(w.Season)
		for i := range w.Places {
			if r.Place == "" || r.Place == w.Places[i].ID {
				c.place(&w.Places[i])
			}
		}
		for i := range w.Pots {
			if r.Place == "" || w.Pots[i].stoodAt(r.Place) {
				c.pot(&w.Pots[i])
			}
		}
		for i := range w.Said {
			m := &w.Said[i]
			c.row(c.season, "message", m.Kind, "borne out", m.At.UTC().Format("2006-01-02T15:04:05Z"), string(m.Good), string(m.Good), m.Came)
		}
	}
	c.w.Flush()
	return c.w.Error()
}

type csvWriter struct {
	w      *csv.Writer
	season string
}

func (c *csvWriter) row(cells ...string) { c.w.Write(cells) } // Flush tells of an error

func (c *csvWriter) date(about, id, figure string, d garden.Date) {
	if d != 0 {
		c.row(c.season, about, id, figure, d.String(), "", "", "")
	}
}

func (c *csvWriter) num(about, id, figure string, at garden.Date, low, high float64, digits int, unit string) {
	day := ""
	if at != 0 {
		day = at.String()
	}
	c.row(c.season, about, id, figure, day, fmt.Sprintf("%.*f", digits, low), fmt.Sprintf("%.*f", digits, high), unit)
}

func (c *csvWriter) place(p *Place) {
	if len(p.Days) == 0 {
		return
	}
	count := func(figure string, n int) { c.num("place", p.ID, figure, 0, float64(n), float64(n), 0, "1") }
	count("frost nights", p.FrostNights)
	c.date("place", p.ID, "first frost", p.FirstFrost)
	c.date("place", p.ID, "last frost", p.LastFrost)
	c.num("place", p.ID, "lowest", p.Lowest.At, float64(p.Lowest.V)/1000, float64(p.Lowest.V)/1000, 3, "Cel")
	c.date("place", p.ID, "first warm spell", p.WarmSpell)
	c.num("place", p.ID, "degree-days above 5", 0, p.DegreeDays[0], p.DegreeDays[1], 1, "Cel.d")
	c.num("place", p.ID, "observed", 0, p.Observed, p.Observed, 3, "1")
	if p.Warmer.N > 0 {
		c.num("place", p.ID, "minimum less the reference", 0, p.Warmer.Mean, p.Warmer.Mean, 2, "Cel")
		count("nights spared", p.SparedNights)
	}
	for _, d := range p.Days {
		c.num("place", p.ID, "air", d.Date, float64(d.Min)/1000, float64(d.Max)/1000, 3, "Cel")
	}
}

func (c *csvWriter) pot(p *Pot) {
	for _, d := range []struct {
		figure string
		at     garden.Date
	}{{"cold account begins", p.ColdStart}, {"enough cold", p.EnoughOn}, {"plenty of cold", p.PlentyOn}, {"nose", p.Nose}, {"opening", p.Opening}, {"flower", p.Flower},
		{"leaf down", p.LeafDown}, {"dressed", p.Dressed}, {"repotted", p.Repotted}, {"gone", p.Gone}} {
		c.date("pot", p.ID, d.figure, d.at)
	}
	c.num("pot", p.ID, "cold credit", 0, p.Credit[0], p.Credit[1], 1, "d")
	c.num("pot", p.ID, "forcing above 5", 0, p.Forcing[0], p.Forcing[1], 1, "Cel.d")
	one := func(figure string, v float64, unit string) { c.num("pot", p.ID, figure, 0, v, v, 2, unit) }
	one("dry days", p.DryDays, "d")
	one("dry days in growth", p.DryGrowth, "d")
	one("wet days", p.WetDays, "d")
	one("judged days", p.JudgedDays, "d")
	one("frozen days", p.FrozenDays, "d")
	one("freeze-thaw cycles", float64(p.FreezeThaw), "1")
	one("over 25", p.Over25, "h")
	if p.Coldest.At != 0 {
		c.num("pot", p.ID, "coldest", p.Coldest.At, float64(p.Coldest.V)/1000, float64(p.Coldest.V)/1000, 3, "Cel")
		c.num("pot", p.ID, "hottest", p.Hottest.At, float64(p.Hottest.V)/1000, float64(p.Hottest.V)/1000, 3, "Cel")
	}
	if p.Shoots > 0 {
		one("shoots", float64(p.Shoots), "1")
	}
	for _, d := range p.Days {
		if d.WetOK {
			c.num("pot", p.ID, "water", d.Date, float64(d.WetLow)/10, float64(d.WetHigh)/10, 1, "%")
		}
	}
	for _, w := range p.Waterings {
		c.row(c.season, "pot", p.ID, "watering", w.At.UTC().Format("2006-01-02T15:04:05Z"), strconv.FormatInt(w.ML, 10), strconv.FormatInt(w.ML, 10), "mL, "+w.Judged)
	}
}
