package dashboards

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// nbsp keeps a number and its unit on one line.
const nbsp = "\u00a0"

// speech writes numbers and times as the site reads them.
type speech struct {
	fahr bool
	zone *time.Location
	now  time.Time
}

func speak(st *alerts.Standing, now time.Time) speech {
	s := speech{zone: time.UTC, now: now}
	if st != nil && st.Garden != nil {
		s.fahr = st.Garden.Site.Fahrenheit
		if z := st.Garden.Site.Zone; z != nil {
			s.zone = z
		}
	}
	return s
}

// number writes v with a true minus and no sign on nought.
func number(v float64, digits int) string {
	t := fmt.Sprintf("%.*f", digits, v)
	if rest, ok := strings.CutPrefix(t, "-"); ok {
		if strings.Trim(rest, "0.") == "" {
			return rest
		}
		return "−" + rest
	}
	return t
}

// scale turns °C into the site's degrees.
func (s speech) scale(c float64) float64 {
	if s.fahr {
		return c*9/5 + 32
	}
	return c
}

func (s speech) unit() string {
	if s.fahr {
		return "°F"
	}
	return "°C"
}

// deg writes a temperature.
func (s speech) deg(t units.MilliCelsius) string {
	return number(s.scale(t.Celsius()), 1) + nbsp + s.unit()
}

// degs writes an interval of temperatures in °C.
func (s speech) degs(i alerts.Interval) string {
	low, high := number(s.scale(i.Low), 1), number(s.scale(i.High), 1)
	if low == high {
		return low + nbsp + s.unit()
	}
	return low + " to " + high + nbsp + s.unit()
}

// step writes a temperature difference, which has no zero point to move.
func (s speech) step(c float64) string {
	if s.fahr {
		c *= 1.8
	}
	return number(c, 1) + nbsp + s.unit()
}

// trend writes a rate of °C an hour in words; under a sixth of a degree it is steady.
func (s speech) trend(i alerts.Interval) string {
	if !i.OK {
		return ""
	}
	mean := (i.Low + i.High) / 2
	switch {
	case math.Abs(mean) < 0.15:
		return "steady"
	case mean > 0:
		return "rising " + s.step(mean) + " an hour"
	}
	return "falling " + s.step(-mean) + " an hour"
}

// percent writes thousandths.
func percent(permille int64) string { return number(float64(permille)/10, 0) + nbsp + "%" }

// daysLeftCap is where a forecast of days stops being worth a figure.
const daysLeftCap = 60

// daysLeft writes the days until the dry limit, short enough for a pot.
func daysLeft(i alerts.Interval) string {
	if !i.OK {
		return ""
	}
	low, high := int(math.Floor(i.Low+0.25)), int(math.Ceil(i.High-0.25))
	switch {
	case low >= daysLeftCap:
		return "60+" + nbsp + "d"
	case high < 1:
		return "today"
	case low < 1 && high == 1:
		return "by tomorrow"
	case low == 1 && high == 1:
		return "tomorrow"
	case low >= high:
		return fmt.Sprintf("%d%sd", low, nbsp)
	case high > daysLeftCap:
		return fmt.Sprintf("%d+%sd", max(low, 0), nbsp)
	}
	return fmt.Sprintf("%d–%d%sd", max(low, 0), high, nbsp)
}

// when writes an instant as shortly as the day allows: "14:05", "yesterday 14:05", "12 Jan 14:05", "12 Jan 2026 14:05".
func (s speech) when(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	l := t.In(s.zone)
	day := s.day(t)
	if day == "today" {
		return l.Format("15:04")
	}
	return day + " " + l.Format("15:04")
}

// day writes the civil day of an instant: "today", "yesterday", "12 Jan", "12 Jan 2026".
func (s speech) day(t time.Time) string {
	cal := garden.Calendar{Zone: s.zone}
	return s.date(cal.DateOf(t))
}

func (s speech) date(d garden.Date) string {
	cal := garden.Calendar{Zone: s.zone}
	today := cal.DateOf(s.now)
	switch today - d {
	case 0:
		return "today"
	case 1:
		return "yesterday"
	}
	return s.plainDate(d)
}

// plainDate never says today.
func (s speech) plainDate(d garden.Date) string {
	cal := garden.Calendar{Zone: s.zone}
	y, m, n := d.Civil()
	if thisYear, _, _ := cal.DateOf(s.now).Civil(); y != thisYear {
		return fmt.Sprintf("%d%s%s%s%d", n, nbsp, m.String()[:3], nbsp, y)
	}
	return fmt.Sprintf("%d%s%s", n, nbsp, m.String()[:3])
}

// iso is an instant for a time element.
func iso(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

// sentence begins with a capital and ends with a stop.
func sentence(t string) string {
	t = strings.TrimSpace(t)
	if t == "" {
		return ""
	}
	r := []rune(t)
	first := strings.ToUpper(string(r[0]))
	t = first + string(r[1:])
	if !strings.ContainsAny(t[len(t)-1:], ".!?") {
		t += "."
	}
	return t
}

// capital begins with a capital.
func capital(t string) string {
	r, n := utf8.DecodeRuneInString(t)
	return string(unicode.ToUpper(r)) + t[n:]
}

// list joins with commas and a last "and".
func list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// spanWords writes a length of time: "5 min", "36 h", "3 days", "1 min 30 s".
func spanWords(d time.Duration) string {
	d = d.Round(time.Second)
	switch {
	case d >= 48*time.Hour && d%(24*time.Hour) == 0:
		return fmt.Sprintf("%d%sdays", d/(24*time.Hour), nbsp)
	case d >= time.Hour && d%time.Hour == 0:
		return fmt.Sprintf("%d%sh", d/time.Hour, nbsp)
	case d >= time.Minute && d%time.Minute == 0:
		return fmt.Sprintf("%d%smin", d/time.Minute, nbsp)
	case d >= time.Minute:
		return fmt.Sprintf("%d%smin %d%ss", d/time.Minute, nbsp, d%time.Minute/time.Second, nbsp)
	}
	return fmt.Sprintf("%d%ss", d/time.Second, nbsp)
}
