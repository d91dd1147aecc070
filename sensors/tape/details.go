package tape

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

func checkDetail(what sensors.What, d string) (string, error) {
	switch what {
	case sensors.Watered:
		return amount(d, " mL")
	case sensors.Weighed:
		return weight(d)
	case sensors.Shoots:
		if n, err := strconv.ParseUint(d, 10, 16); err != nil || n > 1000 {
			return "", fmt.Errorf("%q: write how many, a whole number", clip(d))
		}
	case sensors.Moved:
		if !garden.SafeID(d) {
			return "", fmt.Errorf("%q: write the id of the place it moved to", clip(d))
		}
	case sensors.Divided:
		return ids(d)
	case sensors.Feel:
		if d != "heavy" && d != "right" && d != "light" {
			return "", fmt.Errorf("%q: write heavy, right or light", clip(d))
		}
	case sensors.Regime:
		if garden.RegimeNamed(d) == nil {
			return "", fmt.Errorf("%q: write one of %s", clip(d), regimes())
		}
	case sensors.Marks:
		return mark(d)
	case sensors.Away:
		return until(d)
	}
	return d, nil
}

func amount(d, unit string) (string, error) {
	if d == "" { // watered, how much is not known
		return "", nil
	}
	if _, err := units.ParseDecimal(d, 0); err == nil {
		d += unit
	}
	var v units.Volume
	if err := v.UnmarshalText([]byte(d)); err != nil {
		return "", err
	}
	if v <= 0 || v > 100_000 {
		return "", fmt.Errorf("%v is not an amount for a pot: write mL, like 150", v)
	}
	return strconv.FormatInt(int64(v), 10) + " mL", nil
}

func weight(d string) (string, error) {
	if _, err := units.ParseDecimal(d, 0); err == nil {
		d += " g"
	}
	n, err := units.ParseAs(d, units.Mass)
	if err != nil {
		return "", err
	}
	if n <= 0 || n > 500_000 {
		return "", fmt.Errorf("%d g is not a pot's weight: write g, like 2450", n)
	}
	return strconv.FormatInt(n, 10) + " g", nil
}

// ids reads the new pots of a division, apart by spaces, commas or semicolons; the first keeps the probe.
func ids(d string) (string, error) {
	all := strings.FieldsFunc(d, func(r rune) bool { return r == ' ' || r == ',' || r == ';' })
	for i, id := range all {
		if !garden.SafeID(id) || slices.Contains(all[:i], id) {
			return "", fmt.Errorf("%q: write the ids of the new pots, each once, apart by spaces", clip(d))
		}
	}
	if len(all) < 2 {
		return "", fmt.Errorf("%q: write at least two ids, the one that keeps the probe first", clip(d))
	}
	return strings.Join(all, " "), nil
}

// mark reads "[probe] drained-full 1.21 V" or "[probe] driest-allowed 412 counts [20 %]".
func mark(d string) (string, error) {
	words := strings.Fields(d)
	wrong := fmt.Errorf("%q: write drained-full or driest-allowed, then the raw reading with its unit, like drained-full 1.21 V", clip(d))
	if len(words) > 0 && words[0] != "drained-full" && words[0] != "driest-allowed" && garden.SafeID(words[0]) {
		words = words[1:]
	}
	if len(words) == 0 || words[0] != "drained-full" && words[0] != "driest-allowed" {
		return "", wrong
	}
	for k := 2; k <= len(words); k++ {
		_, _, err := units.Parse(strings.Join(words[1:k], " "))
		if err != nil {
			continue
		}
		if k == len(words) {
			return d, nil
		}
		if _, err := units.ParseAs(strings.Join(words[k:], " "), units.Moisture); err == nil && words[0] == "driest-allowed" {
			return d, nil
		}
	}
	return "", wrong
}

// until reads a date, two of them (the first and the last day), or an instant.
func until(d string) (string, error) {
	if w := strings.Fields(d); len(w) == 2 {
		from, err := time.Parse(time.DateOnly, w[0])
		last, err2 := time.Parse(time.DateOnly, w[1])
		if err != nil || err2 != nil || last.Before(from) {
			return "", fmt.Errorf("%q: write the first and the last day, like 2027-08-03 2027-08-17", clip(d))
		}
		return w[0] + " " + w[1], nil
	}
	if _, err := time.Parse(time.DateOnly, d); err == nil {
		return d, nil
	}
	t, err := instant(d)
	if err != nil {
		return "", fmt.Errorf("%q: write until when, a date like 2027-08-17", clip(d))
	}
	return t.Format(time.RFC3339), nil
}

func regimes() string {
	var all []string
	for _, r := range garden.Regimes {
		all = append(all, r.Name)
	}
	return strings.Join(all, ", ")
}

func whats() string {
	var all []string
	for _, w := range sensors.Whats {
		all = append(all, string(w))
	}
	return strings.Join(all, ", ")
}
