package daemon

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A story's readings are written as a table a grower can check against the tale, one day a line:
//
//	2026-01-14  table-air -5..0  D7-t 0.0  D7-m 48>26
//	2026-10-01..2026-12-31  D7-t 2..6          the same for each day of a span
//	at 2027-02-08 13:30  wall-air 3.4          a value at a moment
//	none 2027-01-17 02:10 .. 2027-01-20 01:30  nothing is read: the mains failed
//	none D7-t 2027-01-17 .. 2027-01-20         that probe alone
//	late 2027-01-20 01:50 D7-t table-air 2027-01-17 .. 2027-01-20 01:30
//	                                           at that moment these probes deliver what they kept themselves of that span
//
// "lo..hi" is a day's wave, lowest at 06:00 and highest at 15:00; "a>b" runs straight through the day; a single figure
// stands all day. Between the moments named a half cosine (waves) or a straight line runs. Times are the garden's civil time.
type storyReadings struct {
	zone  *time.Location
	every time.Duration
	units map[string]string // probe to unit
	lines map[string][]knot
	holes []hole
	late  []delivery
	order []string
	from  time.Time
	until time.Time
}

type knot struct {
	at   time.Time
	v    float64
	wave bool // a half cosine leads here
}

type delivery struct {
	at     time.Time
	probes []string
	span   hole
}

type hole struct {
	probe    string // "" for all
	from, to time.Time
}

func (s *storyReadings) parse(text string) error {
	for n, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(line, "#")
		f := strings.Fields(line)
		if len(f) == 0 {
			continue
		}
		if err := s.line(f); err != nil {
			return fmt.Errorf("readings line %d: %w", n+1, err)
		}
	}
	for _, ks := range s.lines {
		slices.SortStableFunc(ks, func(a, b knot) int { return a.at.Compare(b.at) })
	}
	return nil
}

func (s *storyReadings) line(f []string) error {
	switch f[0] {
	case "every":
		d, err := time.ParseDuration(f[1])
		s.every = d
		return err
	case "unit":
		s.units[f[1]] = f[2]
		return nil
	case "at":
		at, err := s.time(f[1] + " " + f[2])
		if err != nil {
			return err
		}
		return s.pairs(f[3:], func(probe, v string) error { return s.knot(probe, at, v) })
	case "none":
		h, err := s.hole(f[1:])
		s.holes = append(s.holes, h)
		return err
	case "late":
		return s.deliver(f[1:])
	}
	first, last, span := strings.Cut(f[0], "..")
	if !span {
		last = first
	}
	from, err := time.ParseInLocation(time.DateOnly, first, s.zone)
	if err != nil {
		return err
	}
	to, err := time.ParseInLocation(time.DateOnly, last, s.zone)
	if err != nil {
		return err
	}
	for d := from; !d.After(to); d = d.AddDate(0, 0, 1) {
		s.cover(d, d.AddDate(0, 0, 1))
		if err := s.pairs(f[1:], func(probe, v string) error { return s.day(probe, d, v) }); err != nil {
			return err
		}
	}
	return nil
}

func (s *storyReadings) pairs(f []string, do func(probe, v string) error) error {
	if len(f)%2 != 0 {
		return fmt.Errorf("probe without a value in %q", f)
	}
	for i := 0; i < len(f); i += 2 {
		if !slices.Contains(s.order, f[i]) {
			s.order = append(s.order, f[i])
		}
		if err := do(f[i], f[i+1]); err != nil {
			return err
		}
	}
	return nil
}

func (s *storyReadings) cover(from, to time.Time) {
	if s.from.IsZero() || from.Before(s.from) {
		s.from = from
	}
	if to.After(s.until) {
		s.until = to
	}
}

func (s *storyReadings) time(v string) (time.Time, error) {
	return time.ParseInLocation("2006-01-02 15:04", v, s.zone)
}

func (s *storyReadings) knot(probe string, at time.Time, v string) error {
	x, err := strconv.ParseFloat(v, 64)
	s.lines[probe] = append(s.lines[probe], knot{at: at, v: x})
	s.cover(at, at)
	return err
}

func (s *storyReadings) day(probe string, d time.Time, v string) error {
	y, m, day := d.Date()
	clock := func(h int) time.Time { return time.Date(y, m, day, h, 0, 0, 0, s.zone) }
	add := func(at time.Time, t string, wave bool) error {
		x, err := strconv.ParseFloat(t, 64)
		s.lines[probe] = append(s.lines[probe], knot{at, x, wave})
		return err
	}
	if lo, hi, ok := strings.Cut(v, ".."); ok {
		return cmpErr(add(clock(6), lo, true), add(clock(15), hi, true))
	}
	a, b, ok := strings.Cut(v, ">")
	if !ok {
		b = a
	}
	return cmpErr(add(clock(0), a, false), add(clock(24).Add(-time.Minute), b, false))
}

func cmpErr(errs ...error) error {
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

func (s *storyReadings) deliver(f []string) error {
	n := slices.Index(f, "..")
	for n > 0 && strings.ContainsAny(f[n-1][:1], "0123456789") {
		n--
	}
	if n < 3 {
		return fmt.Errorf("late wants a moment, probes and from .. to")
	}
	at, err := s.time(f[0] + " " + f[1])
	span, err2 := s.hole(f[n:])
	s.late = append(s.late, delivery{at, f[2:n], span})
	return cmpErr(err, err2)
}

func (s *storyReadings) hole(f []string) (hole, error) {
	h := hole{}
	if len(f) > 0 && !strings.HasPrefix(f[0], "2") {
		h.probe, f = f[0], f[1:]
	}
	from, to, ok := strings.Cut(strings.Join(f, " "), " .. ")
	if !ok {
		return h, fmt.Errorf("a span is written from .. to")
	}
	var err, err2 error
	h.from, err = s.moment(from)
	h.to, err2 = s.moment(to)
	return h, cmpErr(err, err2)
}

func (s *storyReadings) moment(v string) (time.Time, error) {
	if len(v) == len(time.DateOnly) {
		v += " 00:00"
	}
	return s.time(v)
}

func (s *storyReadings) value(probe string, at time.Time) (float64, bool) {
	for _, h := range s.holes {
		if (h.probe == "" || h.probe == probe) && !at.Before(h.from) && at.Before(h.to) {
			return 0, false
		}
	}
	return s.truth(probe, at)
}

// truth is what a probe would say whether or not anybody asks.
func (s *storyReadings) truth(probe string, at time.Time) (float64, bool) {
	ks := s.lines[probe]
	i, exact := slices.BinarySearchFunc(ks, at, func(k knot, t time.Time) int { return k.at.Compare(t) })
	switch {
	case len(ks) == 0 || i == len(ks) && at.Sub(ks[i-1].at) > 24*time.Hour || i == 0 && !exact && ks[0].at.Sub(at) > 24*time.Hour:
		return 0, false
	case i == len(ks):
		return ks[i-1].v, true
	case exact || i == 0:
		return ks[i].v, true
	}
	a, b := ks[i-1], ks[i]
	if b.at.Sub(a.at) > 4*24*time.Hour {
		return 0, false // the tale does not speak of this probe here
	}
	x := at.Sub(a.at).Seconds() / b.at.Sub(a.at).Seconds()
	if b.wave {
		x = (1 - math.Cos(math.Pi*x)) / 2
	}
	return a.v + (b.v-a.v)*x, true
}

// csv writes the readings as readings.csv, one row a probe and moment.
func (s *storyReadings) csv() []byte {
	var b bytes.Buffer
	b.WriteString("time,probe,value,unit\n")
	for at := s.from; at.Before(s.until); at = at.Add(s.every) {
		for _, p := range s.order {
			if v, ok := s.value(p, at); ok {
				fmt.Fprintf(&b, "%s,%s,%.2f,%s\n", at.UTC().Format(time.RFC3339), p, v, s.unit(p))
			}
		}
	}
	return b.Bytes()
}

// lateCSV writes what one delivery brings, newest first: loggers do not care for order.
func (s *storyReadings) lateCSV(d delivery) []byte {
	var b bytes.Buffer
	b.WriteString("time,probe,value,unit\n")
	for at := d.span.to.Add(-s.every); !at.Before(d.span.from); at = at.Add(-s.every) {
		for _, p := range d.probes {
			if v, ok := s.truth(p, at); ok {
				fmt.Fprintf(&b, "%s,%s,%.2f,%s\n", at.UTC().Format(time.RFC3339), p, v, s.unit(p))
			}
		}
	}
	return b.Bytes()
}

func (s *storyReadings) unit(probe string) string {
	if u, ok := s.units[probe]; ok {
		return u
	}
	switch probe[len(probe)-2:] {
	case "-m":
		return "%"
	case "-h":
		return "%RH"
	}
	return "Cel"
}
