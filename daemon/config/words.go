package config

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// altitude is metres above the sea, written "120 m" or "390 ft".
type altitude float64

func (a *altitude) UnmarshalText(b []byte) error {
	t := strings.TrimSpace(string(b))
	for _, u := range []struct {
		suffix string
		metres float64
	}{{"ft", 0.3048}, {"m", 1}} {
		if num, ok := strings.CutSuffix(t, u.suffix); ok {
			n, err := units.ParseDecimal(strings.TrimSpace(num), 3)
			*a = altitude(float64(n) / 1000 * u.metres)
			return err
		}
	}
	if _, err := units.ParseDecimal(t, 3); err == nil {
		return fmt.Errorf("%q: %w: write %q", t, units.ErrBare, t+" m")
	}
	return fmt.Errorf("%q is not a height above the sea: write it like \"120 m\"", t)
}

// difference is a step between two temperatures in m°C: 0.9 °F is 0.5 °C here, whatever nought is.
type difference units.MilliCelsius

func (d *difference) UnmarshalText(b []byte) error {
	t := strings.TrimSpace(string(b))
	if num, ok := strings.CutSuffix(t, "°F"); ok {
		n, err := units.ParseDecimal(strings.TrimSpace(num), 3)
		*d = difference((n*10 + 9*sign(n)) / 18)
		return err
	}
	var m units.MilliCelsius
	err := m.UnmarshalText(b)
	*d = difference(m)
	return err
}

// measured is the text of a value in a unit its probe will decide.
type measured string

func (m *measured) UnmarshalText(b []byte) error {
	_, _, err := units.Parse(string(b))
	if errors.Is(err, units.ErrBare) {
		return fmt.Errorf("%w: write it like \"1.21 V\", \"412 counts\" or \"-2.5 °C\"", err)
	}
	*m = measured(b)
	return err
}

func sign(n int64) int64 {
	if n < 0 {
		return -1
	}
	return 1
}

// when reads a date (the first instant of that civil day at the site) or an instant with its offset.
func when(v any, zone *time.Location) (time.Time, error) {
	switch d := v.(type) {
	case nil:
		return time.Time{}, nil
	case time.Time:
		return d.UTC(), nil
	case toml.LocalDate:
		cal := garden.Calendar{Zone: zone}
		return cal.Start(cal.DateOf(time.Date(d.Year, time.Month(d.Month), d.Day, 12, 0, 0, 0, zone))), nil
	}
	return time.Time{}, fmt.Errorf("write a date, without quotes: 2026-12-01, or with a time and its offset: 2026-12-01T08:00:00+01:00")
}

// unitNamed finds a unit by its printed or its SenML name.
func unitNamed(s string) (units.Unit, bool) {
	for u := units.Temperature; u.Known(); u++ {
		if s == u.String() || s == u.SenML() {
			return u, true
		}
	}
	return units.None, false
}

// safer proposes an id in the safe alphabet.
func safer(s string) string {
	out := strings.Map(func(c rune) rune {
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' {
			return c
		}
		return '-'
	}, s)
	for strings.Contains(out, "--") {
		out = strings.ReplaceAll(out, "--", "-")
	}
	return strings.Trim(out[:min(len(out), 40)], "-")
}
