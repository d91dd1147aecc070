package drivers

import (
	"context"
	"path/filepath"
	"strings"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// A tipping gauge is a counter that only grows. What is delivered is the depth since the last reading; the first reading of a
// run only says where the counter stands, so rain that fell while nobody looked is not invented.
func init() {
	add(Driver{
		Name: "rain",
		Doc:  "a tipping rain gauge's counter: an IIO counter, a file that holds the count, or an MQTT topic.",
		Example: `[[probe]]
id = "wall-rain"
measures = "rain"
place = "wall"
[probe.rain]
tip = "0.2 mm"
file = "/run/tips"
wraps = 65536
`,
		Parse: parseRain,
	})
}

type rainTable struct {
	Tip   units.MicroMetre `toml:"tip" help:"depth of one tip"`
	Wraps int64            `toml:"wraps" help:"counts before the counter starts at 0 again by itself; 0: it does not"`
	File  string           `toml:"file" help:"a file that holds the count"`
	IIO   string           `toml:"iio" help:"name of an IIO counter chip"`
	Count string           `toml:"count" help:"its channel"`
	Topic string           `toml:"topic" help:"an MQTT topic"`
	Value string           `toml:"value" help:"dotted path to the count in a JSON payload"`
}

// rainGauge is one gauge's table and where its counter stood. It outlives the sources that are opened for it.
type rainGauge struct {
	rainTable
	known bool
	last  int64
	count Wish // the wish for the bare count
}

const mostRain = 200_000 // micrometres between two readings; more is a counter gone wrong

func parseRain(p garden.Probe) (Wish, error) {
	of := &rainGauge{}
	of.Count = "count0"
	if err := table.Decode(p.Source, &of.rainTable); err != nil {
		return Wish{}, err
	}
	if err := mustMeasure(p, "rain gauge", garden.Rain); err != nil {
		return Wish{}, err
	}
	if of.Tip < 10 || of.Tip > 20_000 {
		return Wish{}, p.Source.Errorf("tip", "write how deep one tip is, like \"0.2 mm\"")
	}
	if of.Wraps < 0 || of.Wraps > 1<<40 {
		return Wish{}, p.Source.Errorf("wraps", "write the count at which it starts anew, like 65536, or leave it out")
	}
	w := Wish{Probe: p.ID, Channel: "count", Apart: true, Every: p.Every, Open: openRain, Of: of}
	set := 0
	for _, s := range []string{of.File, of.IIO, of.Topic} {
		if s != "" {
			set++
		}
	}
	switch {
	case set != 1:
		return Wish{}, p.Source.Errorf("", "write exactly one of file, iio and topic")
	case of.File != "":
		w.Bus, w.Chip = "files", "file "+of.File
	case of.IIO != "":
		if strings.ContainsAny(of.Count, "/.") {
			return Wish{}, p.Source.Errorf("count", "%q is no channel: write it like \"count0\"", of.Count)
		}
		w.Bus, w.Chip, w.Channel = "iio", "iio "+of.IIO, of.Count
	default:
		if strings.ContainsAny(of.Topic, "+#\x00") {
			return Wish{}, p.Source.Errorf("topic", "%q: write the one topic the gauge speaks on, without + or #", of.Topic)
		}
		w.Bus, w.Chip, w.Waits = mqttBus, "rain on topic "+of.Topic, true
		w.Topic = of.Topic
	}
	of.count = w
	return w, nil
}

func openRain(env Env, wishes []Wish) (Source, error) {
	of := wishes[0].Of.(*rainGauge)
	inner := of.count
	s := &rainSource{of: of}
	if of.Topic != "" {
		step, _ := perCount{units.Whole(units.Count)}.finer()
		inner.Of = mqttWish{mqttTable: mqttTable{Topic: of.Topic, Value: of.Value}, step: step}
		src, err := openMQTT(env, []Wish{inner})
		s.counter = src
		return s, err
	}
	k := &kernelChip{env: env, wishes: []Wish{inner}, sub: "iio"}
	k.find = func() (string, string, error) { return "", "", nil }
	k.ask = func(ctx context.Context, _ string, _ Wish) answer { return env.count(ctx, env.path(of.File)) }
	if of.IIO != "" {
		k.find = func() (string, string, error) { return env.findIIO(iioTable{Name: of.IIO}) }
		k.ask = func(ctx context.Context, dir string, _ Wish) answer {
			return env.count(ctx, filepath.Join(dir, "in_"+of.Count+"_raw"))
		}
	}
	s.counter = k
	return s, nil
}

func (env Env) count(ctx context.Context, path string) answer {
	text, err := env.attr(ctx, path)
	if err != nil {
		return answer{err: err}
	}
	return plainWhole(text, 0, units.Whole(units.Count))
}

// rainSource turns a counter's readings into depths.
type rainSource struct {
	of      *rainGauge
	counter Source
}

// Close lets the counter go; where it stood stays known.
func (s *rainSource) Close() error { return s.counter.Close() }

// Poll gives the depth since the last reading; nothing at the first.
func (s *rainSource) Poll(ctx context.Context) ([]sensors.Reading, []sensors.Fault) {
	counts, faults := s.counter.Poll(ctx)
	var rs []sensors.Reading
	for _, c := range counts {
		tips, err := s.of.since(c.Whole())
		if err != nil {
			faults = append(faults, faultOf(c.Probe, err))
		} else if tips >= 0 {
			rs = append(rs, sensors.Reading{Probe: c.Probe, Raw: tips, Step: units.Step{Unit: units.Length, Num: int32(s.of.Tip), Den: 1}})
		}
	}
	return rs, faults
}

// since gives the tips since the last count, -1 when there was none. A counter that went back has started anew: at least its
// present count has fallen since, unless it wrapped.
func (g *rainGauge) since(n int64) (int64, error) {
	if n < 0 || g.Wraps > 0 && n >= g.Wraps {
		return 0, implausible("a count of %d", n)
	}
	last, known := g.last, g.known
	g.last, g.known = n, true
	tips := n - last
	switch {
	case !known:
		return -1, nil
	case tips < 0 && g.Wraps > 0 && last > g.Wraps/4*3 && n < g.Wraps/4:
		tips += g.Wraps
	case tips < 0:
		tips = n
	}
	if tips > mostRain/int64(g.Tip) {
		return 0, implausible("the counter leapt by %d tips", tips)
	}
	return tips, nil
}
