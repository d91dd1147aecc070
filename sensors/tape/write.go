package tape

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// WriteReadings writes rows as a readings.csv, in the order given, times in UTC. Every value is written with all its digits
// and reads back as the same quantity; a step that has no end in decimals is rounded at nine digits.
func WriteReadings(w io.Writer, rows iter.Seq[Row]) error {
	out := bufio.NewWriterSize(w, 1<<16)
	out.WriteString(readingsHeader + "\n") // a failed write is kept and returned by Flush
	var line []byte
	for r := range rows {
		if r.Step.Unit.SenML() == "" {
			return fmt.Errorf("writing readings: probe %s at %s has no unit", r.Probe, r.At.Format(time.RFC3339))
		}
		line = r.At.UTC().AppendFormat(line[:0], time.RFC3339Nano)
		line = append(append(append(line, ','), r.Probe...), ',')
		line = appendDecimal(line, r.Raw, r.Step)
		line = append(append(append(line, ','), r.Step.Unit.SenML()...), '\n')
		if _, err := out.Write(line); err != nil {
			return fmt.Errorf("writing readings: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("writing readings: %w", err)
	}
	return nil
}

// appendDecimal writes raw counts of a step as a decimal in the printed unit, by long division.
func appendDecimal(b []byte, raw int64, s units.Step) []byte {
	num, den := int64(max(s.Num, 1)), int64(max(s.Den, 1))
	if s.Den == 0 {
		num = 1
	}
	if raw < 0 {
		b, raw = append(b, '-'), -raw
	}
	whole, rest := raw*num/den, raw*num%den
	digits := s.Unit.Digits()
	text := strconv.FormatInt(whole, 10)
	for len(text) <= digits {
		text = "0" + text
	}
	b = append(b, text[:len(text)-digits]...)
	frac := text[len(text)-digits:]
	for range extraDigits {
		if rest == 0 {
			break
		}
		rest *= 10
		frac += string(rune('0' + rest/den))
		rest %= den
	}
	if frac = strings.TrimRight(frac, "0"); frac != "" {
		b = append(append(b, '.'), frac...)
	}
	return b
}

// WriteNotes writes notes as a notes.csv, in the order given.
func WriteNotes(w io.Writer, notes []sensors.Note) error {
	out := csv.NewWriter(w)
	out.Write(strings.Split(notesHeader, ",")) // a failed write is kept and returned by Error
	for _, n := range notes {
		out.Write([]string{n.At.UTC().Format(time.RFC3339Nano), n.Subject, string(n.What), strings.Join(strings.Fields(n.Detail), " ")})
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("writing notes: %w", err)
	}
	return nil
}
