package exchange

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// WriteCSV writes a readings.csv, times in UTC. It has no word for suspect readings: those are left out and counted.
func WriteCSV(w io.Writer, rounds iter.Seq2[*sensors.Round, error]) (t Tally, err error) {
	werr := tape.WriteReadings(w, func(yield func(tape.Row) bool) {
		for r, e := range rounds {
			if e != nil {
				err = e
				return
			}
			for _, rd := range r.Readings {
				if rd.Quality != sensors.Valid {
					t.LeftOut++
					continue
				}
				t.Readings++
				if !yield(tape.Row{At: r.At, Probe: rd.Probe, Raw: rd.Raw, Step: rd.Step}) {
					return
				}
			}
		}
	})
	return t, errors.Join(err, werr)
}

// ReadCSV reads a readings.csv.
func ReadCSV(name string, r io.Reader) (Read, error) {
	rows, bad, err := tape.ReadReadings(name, r)
	out := Read{Bad: bad, Rows: make([]sensors.LateReading, len(rows)), Lines: make([]int, len(rows))}
	for i, row := range rows {
		out.Rows[i], out.Lines[i] = sensors.LateReading{At: row.At, Reading: row.Reading()}, row.Line
	}
	return out, err
}

// A Column says what a column of a wide CSV holds.
type Column struct {
	Header string
	Probe  sensors.ProbeID
	Unit   string // as in readings.csv
}

// A Wide describes a wide CSV: one row an instant, one column a probe.
type Wide struct {
	Time    string // header of the column with the time
	Layout  string // of the time as package time has it; "" is RFC 3339
	Zone    *time.Location
	Comma   rune // "" is a comma
	Decimal rune // ',' for decimal commas; 0 is a point
	Columns []Column
}

// ReadWide reads a wide CSV. An empty cell is no reading.
func ReadWide(name string, r io.Reader, m Wide) (Read, error) {
	in := csv.NewReader(r)
	in.FieldsPerRecord, in.TrimLeadingSpace = -1, true
	if m.Comma != 0 {
		in.Comma = m.Comma
	}
	head, err := in.Read()
	if err != nil {
		return Read{}, fmt.Errorf("reading the header of %s: %w", name, err)
	}
	head[0] = strings.TrimPrefix(head[0], "\ufeff")
	index := func(h string) (int, error) {
		if i := slices.IndexFunc(head, func(s string) bool { return strings.TrimSpace(s) == h }); i >= 0 {
			return i, nil
		}
		return 0, fmt.Errorf("%s has no column %q; it has %s", name, h, strings.Join(head, ", "))
	}
	when, err := index(m.Time)
	at := make([]int, len(m.Columns))
	for i, c := range m.Columns {
		n, e := index(c.Header)
		at[i], err = n, errors.Join(err, e)
	}
	if err != nil {
		return Read{}, err
	}
	g := newGatherer(name)
	for {
		rec, err := in.Read()
		if err == io.EOF {
			return g.read()
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			g.refuse(pe.Line, "%v", pe.Err)
			continue
		}
		if err != nil {
			return Read{}, fmt.Errorf("reading %s: %w", name, err)
		}
		line, _ := in.FieldPos(0)
		if when >= len(rec) {
			g.refuse(line, "it ends before the time")
			continue
		}
		t, err := m.parse(rec[when])
		if err != nil {
			g.refuse(line, "%q is not a time like %q", rec[when], m.layout())
			continue
		}
		for i, c := range m.Columns {
			if at[i] < len(rec) && strings.TrimSpace(rec[at[i]]) != "" {
				g.add(line, t, string(c.Probe), m.number(rec[at[i]]), c.Unit, nil)
			}
		}
	}
}

func (m Wide) layout() string {
	if m.Layout == "" {
		return time.RFC3339
	}
	return m.Layout
}

func (m Wide) parse(s string) (time.Time, error) {
	zone := m.Zone
	if zone == nil {
		zone = time.UTC
	}
	return time.ParseInLocation(m.layout(), strings.TrimSpace(s), zone)
}

func (m Wide) number(s string) string {
	s = strings.TrimSpace(s)
	if m.Decimal != 0 && m.Decimal != '.' {
		s = strings.Replace(s, string(m.Decimal), ".", 1)
	}
	return s
}

func sorted(bad []*tape.RowError) []*tape.RowError {
	slices.SortStableFunc(bad, func(a, b *tape.RowError) int { return a.Line - b.Line })
	return bad
}

// eachLine hands over the lines of a text that are not empty, counted from 1.
func eachLine(name string, r io.Reader, see func(n int, line string)) error {
	in := bufio.NewReaderSize(r, 1<<16)
	for n := 1; ; n++ {
		s, err := in.ReadString('\n')
		if t := strings.TrimSpace(s); t != "" {
			see(n, t)
		}
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("reading %s: %w", name, err)
		}
	}
}
