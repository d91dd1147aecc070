package config

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

type feedKeys struct {
	Granules      gramsALitre   `toml:"granules"`
	GranulesLabel gramsALitre   `toml:"granules-label"`
	GranulesN     perCent       `toml:"granules-nitrogen"`
	Soak          millisALitre  `toml:"soak"`
	Liquid        strength      `toml:"liquid"`
	LiquidLabel   bottleALitre  `toml:"liquid-label"`
	LiquidN       perCent       `toml:"liquid-nitrogen"`
	Modest        feedGroupKeys `toml:"modest"`
	Usual         feedGroupKeys `toml:"usual"`
	Hungry        feedGroupKeys `toml:"hungry"`
}

type feedGroupKeys struct {
	Every *units.Span `toml:"every"`
	Feeds int         `toml:"feeds"`
	Stop  feedStop    `toml:"stop"`
}

// ratio reads a positive number with one of the given units behind it.
func ratio(text string, most float64, suffixes ...string) (float64, error) {
	t := strings.TrimSpace(text)
	for _, s := range suffixes {
		num, ok := strings.CutSuffix(strings.ToLower(t), strings.ToLower(s))
		if !ok {
			continue
		}
		n, err := units.ParseDecimal(strings.TrimSpace(num), 3)
		if err != nil {
			return 0, err
		}
		v := float64(n) / 1000
		if !(v > 0 && v <= most) {
			return 0, fmt.Errorf("%q is not believable: write more than 0 and at most %g %s", t, most, suffixes[0])
		}
		return v, nil
	}
	if _, err := units.ParseDecimal(t, 3); err == nil {
		return 0, fmt.Errorf("%q: %w: write %q", t, units.ErrBare, t+" "+suffixes[0])
	}
	return 0, fmt.Errorf("%q is not understood: write a number and %s", t, strings.Join(suffixes, " or "))
}

type (
	gramsALitre  float64
	millisALitre float64
	strength     float64
	bottleALitre float64
	perCent      float64
	feedStop     garden.MonthDay
)

func (v *gramsALitre) UnmarshalText(b []byte) (err error) {
	n, err := ratio(string(b), 20, "g/L")
	*v = gramsALitre(n)
	return err
}

func (v *millisALitre) UnmarshalText(b []byte) (err error) {
	n, err := ratio(string(b), 1000, "mL/L")
	*v = millisALitre(n)
	return err
}

func (v *strength) UnmarshalText(b []byte) (err error) {
	n, err := ratio(string(b), 500, "mg/L")
	*v = strength(n)
	return err
}

func (v *bottleALitre) UnmarshalText(b []byte) (err error) {
	n, err := ratio(string(b), 50, "mL/L", "g/L")
	*v = bottleALitre(n)
	return err
}

func (v *perCent) UnmarshalText(b []byte) (err error) {
	n, err := ratio(string(b), 60, "%")
	*v = perCent(n)
	return err
}

// UnmarshalText reads "flower" or a day of every year, "08-15".
func (s *feedStop) UnmarshalText(b []byte) error {
	*s = feedStop{}
	if string(b) == "flower" {
		return nil
	}
	t, err := time.Parse("2006-01-02", "2028-"+string(b))
	if err != nil || (t.Month() == time.February && t.Day() == 29) {
		return fmt.Errorf("%q: write \"flower\" or a day of every year, month first: \"08-15\"", string(b))
	}
	s.Month, s.Day = t.Month(), t.Day()
	return nil
}

// feed reads the keeper's way of feeding.
func (r *reader) feed(b *block) {
	var k feedKeys
	err := table.DecodeGood(b.raw, &k)
	r.find(err)
	f := garden.Feeding{Granules: float64(k.Granules), GranulesLabel: float64(k.GranulesLabel), GranulesN: float64(k.GranulesN), Soak: float64(k.Soak),
		Liquid: float64(k.Liquid), LiquidLabel: float64(k.LiquidLabel), LiquidN: float64(k.LiquidN)}
	if k.LiquidLabel > 0 && k.LiquidN == 0 {
		r.find(b.raw.Errorf("liquid-label", "the label's rate says nothing of nitrogen without liquid-nitrogen: write what the label says, like \"6 %%\""))
	}
	if most := f.LiquidMost(); most > 0 && f.Liquid > most {
		r.find(b.raw.Errorf("liquid", "%g mg/L is more than the label allows (%g mg/L): write less", f.Liquid, most))
	}
	if f.GranulesLabel > 0 && f.Granules > f.GranulesLabel {
		r.find(b.raw.Errorf("granules", "%g g/L is more than the label allows (%g g/L): write less", f.Granules, f.GranulesLabel))
	}
	for _, g := range []struct {
		key  string
		from feedGroupKeys
		to   *garden.FeedGroup
	}{{"modest", k.Modest, &f.Modest}, {"usual", k.Usual, &f.Usual}, {"hungry", k.Hungry, &f.Hungry}} {
		r.find(feedGroup(b.raw, g.key, g.from, g.to))
	}
	r.garden.Feed = f
}

func feedGroup(raw table.Raw, key string, from feedGroupKeys, to *garden.FeedGroup) error {
	var all []error
	to.Until, to.Feeds = garden.MonthDay(from.Stop), from.Feeds
	if from.Every != nil {
		d := from.Every.Duration()
		if to.Every = int(d / (24 * time.Hour)); d%(24*time.Hour) != 0 || to.Every < 1 || to.Every > 366 {
			all = append(all, raw.Errorf(key, "every = %q: write whole days, \"1 d\" to \"366 d\"", from.Every))
		}
	}
	if from.Feeds < 0 || from.Feeds > 100 {
		all = append(all, raw.Errorf(key, "feeds = %d: write how many liquid feeds a season is planned to have, 1 to 100", from.Feeds))
	}
	return errors.Join(all...)
}
