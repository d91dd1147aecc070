package journal

import (
	"cmp"
	"database/sql/driver"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors/garden"
)

// A register gathers what a damaged file says about itself in other places than the rows: its indexes name every note, garden text
// and change, its summaries count the readings of every day. What is named and did not come back is lost, and can be told by name.
type register struct {
	zone    string // of the summaries
	zones   map[string]bool
	named   map[named]bool
	ids     map[string]bool // of notes and changes
	changes map[int64]int64 // number in the order -> instant
	days    map[probeDay]daySaid
	broken  map[int64]bool // keys of blocks and instants of rounds whose checksum is bad
}

type named struct {
	at int64
	id string
}

type probeDay struct {
	num  int64 // of the series, in the damaged file
	date garden.Date
}

// daySaid is a summary as it stands in the file; nothing vouches for it, so it must at least agree with itself.
type daySaid struct{ n, low, high, sum, covered int64 }

func (d daySaid) plausible() bool {
	return d.n > 0 && d.n <= maxReadings && d.covered >= 0 && d.covered <= 90_000 && d.low <= d.high && d.low <= d.sum/d.n+1 && d.high >= d.sum/d.n-1
}

func newRegister() *register {
	return &register{zones: map[string]bool{}, named: map[named]bool{}, ids: map[string]bool{}, changes: map[int64]int64{}, days: map[probeDay]daySaid{}, broken: map[int64]bool{}}
}

// Instants between 2001 and 2286 have thirteen digits; keys of blocks have eleven.
func isInstant(n int64) bool { return n >= 1e12 && n < 1e13 }

func (g *register) learn(r pageRow) {
	switch {
	case r.rowid == 0 && shaped(r, "ss") && r.cols[0] == "zone of days":
		g.zone = r.cols[1].(string)
	case r.rowid == 0 && shaped(r, "isi") && isInstant(r.cols[0].(int64)):
		g.named[named{r.cols[0].(int64), r.cols[1].(string)}] = true
	case r.rowid == 0 && shaped(r, "si"):
		g.ids[r.cols[0].(string)] = true
	case r.rowid > 0 && r.rowid < 100 && shaped(r, "ns"):
		g.zones[r.cols[1].(string)] = true
	case r.rowid == 0 && shaped(r, "iii") && isInstant(r.cols[0].(int64)):
		g.changes[r.cols[1].(int64)] = r.cols[0].(int64)
	case r.rowid > 0 && shaped(r, "niiiiii"):
		d := daySaid{r.cols[2].(int64), r.cols[3].(int64), r.cols[4].(int64), r.cols[5].(int64), r.cols[6].(int64)}
		k := probeDay{r.rowid >> 20, garden.Date(r.rowid & (1<<20 - 1))}
		if d.plausible() && d.n > g.days[k].n { // of several images of a page the fullest is the newest
			g.days[k] = d
		}
	}
}

// place is the zone whose days the summaries count, nil when it is not known.
func (g *register) place() *time.Location {
	if len(g.zones) == 1 && g.zone == "" {
		for g.zone = range g.zones {
		}
	}
	zone, err := time.LoadLocation(g.zone)
	if err != nil || g.zone == "" {
		return nil
	}
	return zone
}

// missing names what the register knows of and the journal has not.
func (g *register) missing(j *Journal, names map[int64]seriesKey) (lost []string, err error) {
	for _, look := range []func(*Journal, map[int64]seriesKey) ([]string, error){g.missingTexts, g.missingChanges, g.missingDays, g.missingRounds} {
		some, e := look(j, names)
		lost, err = append(lost, some...), errors.Join(err, e)
	}
	return lost, err
}

func (g *register) missingTexts(j *Journal, _ map[int64]seriesKey) (lost []string, err error) {
	all := make([]named, 0, len(g.named))
	for n := range g.named {
		all = append(all, n)
	}
	slices.SortFunc(all, func(a, b named) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.id, b.id)) })
	var gardens, notes []string
	for _, n := range all {
		_, is, err := j.c.number("select 1 from note where id = ? union all select 1 from garden where at = ? and id = ?", n.id, n.at, n.id)
		if err != nil || is {
			if err != nil {
				return nil, err
			}
			continue
		}
		switch when := unstamp(n.at).Format(time.RFC3339); {
		case g.ids[n.id]:
			notes = append(notes, when)
		case len(g.ids) == 0:
			gardens = append(gardens, "a note or a garden's text, of "+when)
		default:
			gardens = append(gardens, "the garden's text in force from "+when+" on")
		}
	}
	return append(several("lost: ", gardens), joined("lost notes, of ", notes)...), nil
}

func (g *register) missingChanges(j *Journal, _ map[int64]seriesKey) ([]string, error) {
	err := j.c.query("select seq from change", func(row []driver.Value) error {
		delete(g.changes, row[0].(int64))
		return nil
	})
	if len(g.changes) == 0 || err != nil {
		return nil, err
	}
	first, last := int64(1<<62), int64(0)
	for _, at := range g.changes {
		first, last = min(first, at), max(last, at)
	}
	return []string{fmt.Sprintf("lost: %d changes or messages, of %s to %s", len(g.changes), unstamp(first).Format(time.RFC3339), unstamp(last).Format(time.RFC3339))}, nil
}

// missingDays holds the summaries of the damaged file against those made anew of what came back.
func (g *register) missingDays(j *Journal, names map[int64]seriesKey) ([]string, error) {
	if g.zone != j.o.Zone.String() {
		return nil, nil // days of another zone count other readings
	}
	got := map[seriesKey]map[garden.Date]int64{}
	err := j.c.query("select k, n from day", func(row []driver.Value) error {
		if s := j.dict.byNum[row[0].(int64)>>20]; s != nil {
			k := seriesKey{s.probe, s.step}
			if got[k] == nil {
				got[k] = map[garden.Date]int64{}
			}
			got[k][garden.Date(row[0].(int64)&(1<<20-1))] = row[1].(int64)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	days := map[garden.Date][]string{}
	for k, said := range g.days {
		name, known := names[k.num]
		if have := got[name][k.date]; known && have < said.n {
			days[k.date] = append(days[k.date], fmt.Sprintf("%s (%d of %d readings)", name.probe, said.n-have, said.n))
		}
	}
	var dates []garden.Date
	for d := range days {
		dates = append(dates, d)
	}
	slices.Sort(dates)
	var lines []string
	for _, d := range dates {
		slices.Sort(days[d])
		lines = append(lines, d.String()+": "+strings.Join(days[d], ", "))
	}
	return several("lost on ", lines), nil
}

// missingRounds names the rounds of the tail whose row was found and could not be trusted.
func (g *register) missingRounds(j *Journal, _ map[int64]seriesKey) ([]string, error) {
	var at []int64
	for t := range g.broken {
		if _, is, err := j.c.number("select 1 from tail where t = ?", t); err != nil {
			return nil, err
		} else if is || !isInstant(t) {
			continue
		}
		if sealed, err := j.isSealed(dayOf(t)); err != nil {
			return nil, err
		} else if !sealed { // of a sealed day the summaries speak
			at = append(at, t)
		}
	}
	slices.Sort(at)
	rounds := make([]string, len(at))
	for i, t := range at {
		rounds[i] = unstamp(t).Format(time.RFC3339)
	}
	return joined("lost rounds, of ", rounds), nil
}

const mostNamed = 30

// several puts the same words before each, and counts those that are too many to name.
func several(before string, names []string) (lines []string) {
	for i, n := range names {
		if i == mostNamed {
			return append(lines, fmt.Sprintf("%sand %d more", before, len(names)-i))
		}
		lines = append(lines, before+n)
	}
	return lines
}

// joined names all in one line.
func joined(before string, names []string) []string {
	if len(names) == 0 {
		return nil
	}
	more := ""
	if len(names) > mostNamed {
		more = fmt.Sprintf(" and %d more", len(names)-mostNamed)
		names = names[:mostNamed]
	}
	return []string{before + strings.Join(names, ", ") + more}
}
