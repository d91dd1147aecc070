package config

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func (r *reader) probe(b *block) {
	var k probeKeys
	r.find(aboutDrivers(table.DecodeGood(b.raw, &k)))
	r.id(b, k.ID)
	r.said(b, [2]string{"depth", k.Depth})
	k.block = b
	p := garden.Probe{ID: sensors.ProbeID(k.ID), Pot: k.Pot, Place: k.Place, Depth: k.Depth, Shielded: k.Shielded, Line: b.header}
	if k.Measures == "" {
		r.find(b.raw.Errorf("", "it does not say what it measures: write measures = \"pot-temperature\" or the like"))
	} else if r.choice(b, "measures", k.Measures, garden.MeasureNames()...) {
		r.find(p.Measures.UnmarshalText([]byte(k.Measures)))
	}
	r.spacing(b, k.Every, &p)
	r.unit(b, k.Unit, &p)
	r.marks(b, k, &p)
	r.limits(b, k.Limits, &p)
	r.offsets(b, k.Offset, &p)
	switch len(b.inner) {
	case 0:
	case 1:
		p.Source = b.inner[0]
	default:
		r.find(b.inner[1].Errorf("", "a probe has one driver and this is its second table: take %s or %s away, or write another [[probe]]", b.inner[0].Name, b.inner[1].Name))
	}
	r.garden.Probes = append(r.garden.Probes, p)
	r.probes = append(r.probes, k)
}

// aboutDrivers knows that a driver's name among the probe's keys was meant as its table.
func aboutDrivers(err error) error {
	for _, e := range table.List(err) {
		if _, ok := drivers.Named(strings.SplitN(e.Key, ".", 2)[0]); ok {
			e.Say = "write the driver's keys in a table of their own below the probe: [probe." + strings.SplitN(e.Key, ".", 2)[0] + "]"
		}
	}
	return err
}

func (r *reader) spacing(b *block, every *units.Span, p *garden.Probe) {
	if every == nil {
		return
	}
	p.Every = every.Duration()
	if p.Every < time.Minute || p.Every > 24*time.Hour {
		r.find(b.raw.Errorf("every", "%v is outside 1 min to 24 h: write how often this probe really speaks", *every))
	}
}

func (r *reader) unit(b *block, name string, p *garden.Probe) {
	if name == "" || p.Measures == garden.MeasuresNothing {
		return
	}
	u, ok := unitNamed(name)
	if allowed := p.Measures.Units(); !ok || !slices.Contains(allowed, u) {
		var names []string
		for _, u := range allowed {
			names = append(names, u.String())
		}
		r.find(b.raw.Errorf("unit", "%q is no unit of a probe that measures %v: %s", name, p.Measures, table.Advice(name, names)))
		return
	}
	p.Unit = u
}

// marks reads the two calibration points. Their unit is the probe's: a mark in volts says nothing about counts.
func (r *reader) marks(b *block, k probeKeys, p *garden.Probe) {
	from, err := when(k.Since, r.garden.Site.Zone)
	if err != nil {
		r.find(b.raw.Errorf("since", "%w", err))
	}
	if k.DriestShare != 0 && k.DriestAllowed == "" {
		r.find(b.raw.Errorf("driest-share", "it says what driest-allowed stands for, and there is none: write driest-allowed = \"...\" or take it away"))
	}
	if k.DriestShare < 0 || k.DriestShare >= 1000 {
		r.find(b.raw.Errorf("driest-share", "%v is not a share of drained-full: write one from \"0 %%\" to under \"100 %%\"", k.DriestShare))
	}
	for _, m := range []struct {
		key   string
		text  measured
		which garden.Which
		share units.PerMilleFull
	}{{"drained-full", k.DrainedFull, garden.DrainedFull, 1000}, {"driest-allowed", k.DriestAllowed, garden.DriestAllowed, cmp.Or(k.DriestShare, -1)}} {
		if m.text == "" {
			continue
		}
		if p.Measures != garden.PotMoisture && p.Measures != garden.MeasuresNothing {
			r.find(b.raw.Errorf(m.key, "only a probe that measures pot-moisture has marks: take it away"))
			continue
		}
		if raw, ok := r.quantity(b, m.key, m.text, p); ok {
			p.Marks = append(p.Marks, garden.Mark{From: from, Which: m.which, Raw: raw, Share: m.share})
		}
	}
	if len(p.Marks) == 2 && p.Marks[0].Raw == p.Marks[1].Raw {
		r.find(b.raw.Errorf("driest-allowed", "it is the same as drained-full: set one mark wet and one dry"))
	}
}

// quantity reads a value in the probe's own unit, and learns that unit from the first one written.
func (r *reader) quantity(b *block, key string, text measured, p *garden.Probe) (int64, bool) {
	allowed := p.Measures.Units()
	if p.Unit != units.None {
		allowed = []units.Unit{p.Unit}
	}
	n, u, err := units.Parse(string(text))
	switch {
	case err != nil:
		r.find(b.raw.Errorf(key, "%w", err))
		return 0, false
	case len(allowed) > 0 && !slices.Contains(allowed, u):
		r.find(b.raw.Errorf(key, "%q is in %v, this probe speaks %v", text, u, allowed[0]))
		return 0, false
	}
	p.Unit = u
	return n, true
}

func (r *reader) limits(b *block, k *limitKeys, p *garden.Probe) {
	if k == nil {
		return
	}
	if k.Low == "" || k.High == "" {
		r.find(b.raw.Errorf("limits", "write both: limits = {low = \"...\", high = \"...\"}"))
		return
	}
	low, ok1 := r.quantity(b, "limits", k.Low, p)
	high, ok2 := r.quantity(b, "limits", k.High, p)
	if ok1 && ok2 && low >= high {
		r.find(b.raw.Errorf("limits", "low is not below high: write the smaller one as low"))
	}
	p.Limits = &garden.Limits{Low: low, High: high}
}

func (r *reader) offsets(b *block, all []offsetKeys, p *garden.Probe) {
	if len(all) > 0 && p.Measures != garden.PotTemperature && p.Measures != garden.AirTemperature && p.Measures != garden.MeasuresNothing {
		r.find(b.raw.Errorf("offset", "only a thermometer has offsets: take it away"))
		return
	}
	for _, o := range all {
		from, err := when(o.From, r.garden.Site.Zone)
		if err != nil {
			r.find(b.raw.Errorf("offset", "from: %w", err))
		}
		if o.From == nil {
			r.find(b.raw.Errorf("offset", "from is missing: write the date of the check: from = 2026-10-04"))
		}
		p.Offset = append(p.Offset, garden.Offset{From: from, Add: units.MilliCelsius(o.Add), Why: o.Why})
	}
	slices.SortStableFunc(p.Offset, func(a, b garden.Offset) int { return a.From.Compare(b.From) })
}
