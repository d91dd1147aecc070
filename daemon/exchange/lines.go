package exchange

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"

	"lathwatch/daemon/influx"
	"lathwatch/sensors"
)

// WriteLines writes line protocol with times in milliseconds, as the forwarder sends it: readings and faults.
func WriteLines(w io.Writer, node string, rounds iter.Seq2[*sensors.Round, error]) (t Tally, err error) {
	out := bufio.NewWriterSize(w, 1<<16)
	for r, err := range rounds {
		if err != nil {
			return t, err
		}
		for _, l := range influx.Lines(node, r) {
			_, _ = out.WriteString(l) // a failed write is kept and returned by Flush
			_ = out.WriteByte('\n')
		}
		t.Readings += len(r.Readings)
	}
	if err := out.Flush(); err != nil {
		return t, fmt.Errorf("writing readings: %w", err)
	}
	return t, nil
}

// ReadLines reads line protocol as WriteLines writes it. Faults are passed over; other measurements are refused by line.
func ReadLines(name string, r io.Reader) (Read, error) {
	g := newGatherer(name)
	err := eachLine(name, r, func(n int, line string) {
		if strings.HasPrefix(line, "#") {
			return
		}
		if err := g.line(n, line); err != nil {
			g.refuse(n, "%v", err)
		}
	})
	if err != nil {
		return Read{}, err
	}
	return g.read()
}

func (g *gatherer) line(n int, line string) error {
	parts := splitOutside(line, ' ')
	if len(parts) != 3 {
		return errors.New("it is not line protocol with a time")
	}
	tags := splitOutside(parts[0], ',')
	measurement := unescape(tags[0])
	if measurement == "fault" {
		g.out.Passed++
		return nil
	}
	u, ok := influx.UnitOf(measurement)
	if !ok {
		return fmt.Errorf("measurement %q is not one of ours", measurement)
	}
	probe, value, suspect := "", "", false
	for _, tag := range tags[1:] {
		if kv := splitOutside(tag, '='); len(kv) == 2 && kv[0] == "probe" {
			probe = unescape(kv[1])
		}
	}
	for _, f := range splitOutside(parts[1], ',') {
		switch k, v, _ := strings.Cut(f, "="); k {
		case "value":
			value = v
		case "suspect":
			suspect = v == "1"
		}
	}
	ms, err := strconv.ParseInt(parts[2], 10, 64)
	if err != nil || ms < 0 || ms > 1e14 {
		return fmt.Errorf("%q is not a time in milliseconds", parts[2])
	}
	if probe == "" || value == "" {
		return errors.New("it has no probe tag or no value field")
	}
	number, err := sum("", json.Number(value))
	if err != nil {
		return err
	}
	exact := sensors.Reading{Probe: sensors.ProbeID(probe)}
	if suspect {
		exact = wholeReading(probe, number, u)
		exact.Quality = sensors.Suspect
	}
	g.add(n, time.UnixMilli(ms), probe, plain(number), u.SenML(), &exact)
	return nil
}

// Escape writes a name for line protocol; also is what else than comma and space it must escape: "=" in tags and field names.
func Escape(s, also string) string {
	var b strings.Builder
	for _, c := range s {
		if strings.ContainsRune(", "+also, c) {
			b.WriteByte('\\')
		}
		b.WriteRune(c)
	}
	return b.String()
}

func unescape(s string) string {
	return strings.NewReplacer(`\,`, ",", `\ `, " ", `\=`, "=").Replace(s)
}

// splitOutside cuts at a byte that is neither escaped nor quoted.
func splitOutside(s string, at byte) []string {
	var parts []string
	start, quoted := 0, false
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] == '\\':
			i++
		case s[i] == '"':
			quoted = !quoted
		case s[i] == at && !quoted:
			parts, start = append(parts, s[start:i]), i+1
		}
	}
	return append(parts, s[min(start, len(s)):])
}
