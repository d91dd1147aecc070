package daemon

import (
	"fmt"
	"regexp"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// half is what lies between the hemispheres: 26 weeks, so that Sundays stay Sundays.
const half = 182 * 24 * time.Hour

// Hemispheres differ only by a shift: every northern tale, moved by 182 days to the south of the equator, says the same of the
// same pots on the same days of the plants' year. Both are told in a zone without summer time.
func TestSouthernMirror(t *testing.T) {
	for _, path := range storyFiles(t) {
		north := loadStoryAs(t, path, func(g string) string { return oneZone.ReplaceAllString(g, `zone = "Etc/GMT-1"`) })
		if !(north.garden.Site.Latitude > 0) {
			continue
		}
		t.Run(north.id, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(north.days(t), north.mirrored().days(t)); diff != "" {
				t.Errorf("north and south differ (-north +south):\n%s", diff)
			}
		})
	}
}

var oneZone = regexp.MustCompile(`(?m)^zone = ".*"`)

// mirrored is the same tale half a year on at the opposite latitude.
func (s *story) mirrored() *story {
	m := *s
	g := *s.garden
	m.garden = &g
	g.Site.Latitude = -g.Site.Latitude
	if n := s.garden.Normals; n != nil {
		moved := garden.Normals{}
		for i := range n.Mean {
			moved.Mean[(i+6)%12], moved.Spread[(i+6)%12] = n.Mean[i], n.Spread[i]
		}
		g.Normals = &moved
	}
	g.Probes = nil
	for _, p := range s.garden.Probes {
		for i := range p.Marks {
			if !p.Marks[i].From.IsZero() {
				p.Marks[i].From = p.Marks[i].From.Add(half)
			}
		}
		g.Probes = append(g.Probes, p)
	}
	m.rows = append([]tape.Row(nil), s.rows...)
	for i := range m.rows {
		m.rows[i].At = m.rows[i].At.Add(half)
	}
	m.notes = append([]sensors.Note(nil), s.notes...)
	for i := range m.notes {
		n := &m.notes[i]
		n.At = n.At.Add(half)
		if d, err := time.Parse(time.DateOnly, n.Detail); err == nil {
			n.Detail = d.Add(half).Format(time.DateOnly)
		}
	}
	m.late = append([]sensors.Entry(nil), s.late...)
	for i := range m.late {
		l := *m.late[i].Late
		l.Readings = append([]sensors.LateReading(nil), l.Readings...)
		for k := range l.Readings {
			l.Readings[k].At = l.Readings[k].At.Add(half)
		}
		m.late[i] = sensors.Entry{At: m.late[i].At.Add(half), Late: &l}
	}
	m.expect = nil
	return &m
}

// days lists what was said: day of the plants' year, kind, pot.
func (s *story) days(t *testing.T) []string {
	t.Helper()
	south, _ := s.garden.Site.South()
	cal := garden.Calendar{Zone: s.garden.Site.Zone, South: south}
	var list []string
	for _, c := range s.tell(t, nil).said {
		line := fmt.Sprintf("season day %d, %s", cal.SeasonDay(cal.DateOf(c.At)), c.Kind)
		if len(c.Pots) == 0 {
			list = append(list, line)
		}
		for _, p := range c.Pots {
			list = append(list, line+", "+p)
		}
	}
	return list
}
