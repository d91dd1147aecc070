package tape

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

const readingsHeader = "time,probe,value,unit"

// extraDigits is how far beyond a unit's whole number a written value is kept: a sixteenth of a degree needs one.
const extraDigits = 3

// ReadReadings reads a readings.csv: RFC 3339 times with offset, probe ids, plain decimal values, units by their names in
// RFC 8428. The rows come sorted by time and probe, each reading once. bad names every row that was left out; err is for a
// file that is no readings.csv at all or cannot be read.
func ReadReadings(name string, r io.Reader) (rows []Row, bad []*RowError, err error) {
	ids := map[string]sensors.ProbeID{} // one string a probe, not one a row
	err = eachLine(name, readingsHeader, r, func(line int, text string) {
		row, err := parseRow(text, ids)
		if err != nil {
			bad = append(bad, &RowError{name, line, err.Error()})
			return
		}
		row.Line = line
		rows = append(rows, row)
	})
	if err != nil {
		return nil, nil, err
	}
	level(rows)
	rows, twice := once(name, rows)
	bad = append(bad, twice...)
	slices.SortFunc(bad, func(a, b *RowError) int { return a.Line - b.Line })
	return rows, bad, nil
}

// eachLine hands every line after the header to see; empty ones are passed over.
func eachLine(name, header string, r io.Reader, see func(line int, text string)) error {
	in := bufio.NewReaderSize(r, 1<<16)
	for line := 1; ; line++ {
		b, err := in.ReadBytes('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("reading %s: %w", name, err)
		}
		text := strings.TrimRight(string(b), "\r\n")
		if line == 1 {
			text = strings.TrimPrefix(text, "\ufeff")
			if strings.ReplaceAll(text, " ", "") != header {
				return &RowError{name, 1, fmt.Sprintf("the first line is %q: write %q", clip(text), header)}
			}
		} else if strings.TrimSpace(text) != "" {
			see(line, text)
		}
		if err != nil {
			return nil
		}
	}
}

func clip(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "..."
	}
	return s
}

func parseRow(text string, ids map[string]sensors.ProbeID) (Row, error) {
	f := strings.Split(text, ",")
	if len(f) != 4 {
		return Row{}, fmt.Errorf("%d fields: write %s", len(f), readingsHeader)
	}
	for i := range f {
		f[i] = strings.TrimSpace(f[i])
		if n := len(f[i]); n >= 2 && f[i][0] == '"' && f[i][n-1] == '"' {
			f[i] = f[i][1 : n-1]
		}
	}
	at, err := instant(f[0])
	if err != nil {
		return Row{}, err
	}
	id, ok := ids[f[1]]
	if !ok {
		if !garden.SafeID(f[1]) {
			return Row{}, fmt.Errorf("probe %q: write its id, letters, digits and hyphens only", clip(f[1]))
		}
		id = sensors.ProbeID(strings.Clone(f[1]))
		ids[string(id)] = id
	}
	u, err := units.FromSenML(f[3])
	if err != nil {
		return Row{}, err
	}
	raw, step, err := quantise(f[2], u)
	return Row{At: at, Probe: id, Raw: raw, Step: step}, err
}

// instant reads RFC 3339 with its offset. Years outside 1970 to 2200 are a wrong clock, not a past.
func instant(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return t, fmt.Errorf("time %q: write date, time and offset like 2026-01-12T14:05:00Z or 2026-01-12T15:05:00+01:00", clip(s))
	}
	if t = t.UTC(); t.Year() < 1970 || t.Year() > 2200 {
		return t, fmt.Errorf("time %q: the year is not one of 1970 to 2200", clip(s))
	}
	return t, nil
}

// quantise keeps the digits that were written: 4.125 Cel is 4125 steps of 1 m°C, 4.0625 Cel is 40625 of 0.1 m°C.
func quantise(s string, u units.Unit) (int64, units.Step, error) {
	digits := u.Digits()
	if _, frac, ok := strings.Cut(s, "."); ok {
		digits = min(max(digits, len(strings.TrimRight(frac, "0"))), digits+extraDigits)
	}
	n, err := units.ParseDecimal(s, digits)
	if err != nil {
		return 0, units.Step{}, fmt.Errorf("value %w", err)
	}
	den := int32(1)
	for range digits - u.Digits() {
		den *= 10
	}
	return n, units.Step{Unit: u, Num: 1, Den: den}, nil
}
