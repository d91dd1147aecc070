package ledger

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// columns are the header of a ledger file. Dates are ISO 8601, an empty cell is not noted. Ratio is written and not read.
var columns = []string{"season", "plant", "shoots", "flowers", "nose", "opening", "flower", "leaf-down", "lost", "cause", "ratio"}

// CSV writes the book, one row a plant and season.
func (b *Book) CSV(out io.Writer) error {
	w := csv.NewWriter(out)
	w.Write(columns)
	for _, s := range b.Seasons {
		for i := range b.Plants {
			if y := b.Plants[i].Year(s); y != nil {
				w.Write(row(b.Plants[i].Plant, y))
			}
		}
	}
	w.Flush()
	return w.Error()
}

func row(plant string, y *Year) []string {
	shoots, flowers, ratio, lost, cause := "", "", "", "", ""
	if y.Counted {
		shoots = strconv.Itoa(y.Shoots)
	}
	if y.Flowers > 0 {
		flowers = strconv.Itoa(y.Flowers)
	}
	if y.RatioOK {
		ratio = strconv.FormatFloat(y.Ratio, 'f', 2, 64)
	}
	if n := len(y.Lost); n > 0 {
		lost = y.Lost[n-1].At.String()
		var all []string
		for _, l := range y.Lost {
			all = append(all, l.Cause)
		}
		cause = inert(strings.Join(all, "; "))
	}
	return []string{strconv.Itoa(y.Season), plant, shoots, flowers, date(y.Nose), date(y.Opening), date(y.Flower), date(y.Leaf), lost, cause, ratio}
}

// formula is what a text begins with that a spreadsheet takes for a formula (common practice, no source).
const formula = "=+-@\t\r"

// inert keeps a spreadsheet from working out what a keeper wrote: the mark in front says that it is text. Import takes it away.
func inert(s string) string {
	if s != "" && strings.ContainsRune(formula, rune(s[0])) {
		return "'" + s
	}
	return s
}

func plainText(s string) string {
	if len(s) > 1 && s[0] == '\'' && strings.ContainsRune(formula, rune(s[1])) {
		return s[1:]
	}
	return s
}

func date(d garden.Date) string {
	if d == 0 {
		return ""
	}
	return d.String()
}

// Import reads a ledger file into the notes it stands for, oldest first: records of years before the program was there. A broken row
// is named with its line and the rest is used; err is for a file that is no ledger.
func Import(name string, in io.Reader, cal garden.Calendar, known func(plant string) bool) (notes []sensors.Note, bad []*tape.RowError, err error) {
	r := csv.NewReader(in)
	r.FieldsPerRecord = -1
	head, err := r.Read()
	if err != nil {
		return nil, nil, fmt.Errorf("reading %s: %w", name, err)
	}
	at := map[string]int{}
	for i, h := range head {
		at[strings.TrimSpace(strings.TrimPrefix(h, "\ufeff"))] = i
	}
	for _, c := range []string{"season", "plant"} {
		if _, ok := at[c]; !ok {
			return nil, nil, fmt.Errorf("%s is no ledger: its first line names no column %q", name, c)
		}
	}
	for {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, nil, fmt.Errorf("reading %s: %w", name, err)
		}
		line, _ := r.FieldPos(0)
		get := func(c string) string {
			if i, ok := at[c]; ok && i < len(cells) {
				return strings.TrimSpace(cells[i])
			}
			return ""
		}
		ns, err := importRow(get, cal, known)
		if err != nil {
			bad = append(bad, &tape.RowError{File: name, Line: line, Say: err.Error()})
			continue
		}
		notes = append(notes, ns...)
	}
	slices.SortStableFunc(notes, func(a, b sensors.Note) int { return a.At.Compare(b.At) })
	return notes, bad, nil
}

// countDay is the season day (15 June, shifted in the south) a count without a date of its own is put on: the shoots stand then.
const countDay = 287

func importRow(get func(string) string, cal garden.Calendar, known func(string) bool) ([]sensors.Note, error) {
	season, err := strconv.Atoi(get("season"))
	if err != nil || season < 1900 || season > 2200 {
		return nil, fmt.Errorf("season %q: write the year in which the plant came up", get("season"))
	}
	plant := get("plant")
	if !known(plant) {
		return nil, fmt.Errorf("plant %q is not in the garden file", plant)
	}
	var notes []sensors.Note
	add := func(at time.Time, what sensors.What, detail string, about time.Duration) error {
		n, err := tape.Checked(sensors.Note{At: at, Subject: plant, What: what, Detail: detail, About: about})
		if err == nil {
			notes = append(notes, n)
		}
		return err
	}
	first := cal.SeasonStart(season)
	noon := func(d garden.Date) time.Time { return cal.Start(d).Add(12 * time.Hour) }
	if s := get("shoots"); s != "" {
		if err := add(noon(first+countDay), sensors.Shoots, s, 60*24*time.Hour); err != nil {
			return nil, err
		}
	}
	lost, cause := sensors.Lost, plainText(get("cause"))
	if n, _ := strconv.Atoi(get("shoots")); n > 0 { // a pot of it: the plant lived on
		lost, cause = sensors.Remark, strings.TrimSuffix("a pot was lost: "+cause, ": ")
	}
	for _, d := range []struct {
		column string
		what   sensors.What
		detail string
	}{{"nose", sensors.Nose, ""}, {"opening", sensors.Opening, ""}, {"flower", sensors.Flower, flowers(get("flowers"))}, {"leaf-down", sensors.LeafDown, ""}, {"lost", lost, cause}} {
		s := get(d.column)
		if s == "" {
			continue
		}
		t, err := time.Parse(time.DateOnly, s)
		if err != nil {
			return nil, fmt.Errorf("%s %q: write it like 2027-04-12", d.column, s)
		}
		day := garden.Date(t.Unix() / 86_400)
		if cal.Season(day) != season {
			return nil, fmt.Errorf("%s %s lies in the season of %d, not %d", d.column, s, cal.Season(day), season)
		}
		if err := add(noon(day), d.what, d.detail, 0); err != nil {
			return nil, err
		}
	}
	return notes, nil
}

func flowers(s string) string {
	if s == "" {
		return ""
	}
	return s + " flowers"
}
