package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/bus"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// A ProbeLine is one probe of the garden as `probes` and `mark` see it.
type ProbeLine struct {
	ID       string        `json:"id"`
	Measures string        `json:"measures"`
	Pot      string        `json:"pot,omitempty"`
	Place    string        `json:"place,omitempty"`
	Source   string        `json:"source,omitempty"` // driver
	Value    string        `json:"value,omitempty"`  // as printed, "" when it has never answered
	Whole    int64         `json:"whole"`            // in the unit's whole numbers
	Unit     string        `json:"unit,omitempty"`
	At       time.Time     `json:"at,omitzero"`
	Suspect  bool          `json:"suspect,omitempty"`
	Fault    string        `json:"fault,omitempty"`
	Marks    []garden.Mark `json:"marks,omitempty"`
}

// A Survey is what answers on a board: the garden's probes, and what nobody has bound yet.
type Survey struct {
	Probes  []ProbeLine     `json:"probes"`
	Unbound []drivers.Found `json:"unbound"`
}

func probeLine(p *garden.Probe) ProbeLine {
	return ProbeLine{ID: string(p.ID), Measures: p.Measures.String(), Pot: p.Pot, Place: p.Place, Source: p.Source.Name, Marks: p.Marks}
}

func (l *ProbeLine) reading(r sensors.Reading, at time.Time) {
	l.Value, l.Whole, l.Unit, l.At, l.Suspect = r.Unit().Format(r.Whole()), r.Whole(), r.Unit().String(), at, r.Quality == sensors.Suspect
}

// survey lists a running daemon's probes without asking them anything.
func (d *Daemon) survey() Survey {
	s := Survey{Probes: probeLines(d.Standing()), Unbound: []drivers.Found{}}
	if d.poller != nil {
		s.Unbound = append(s.Unbound, d.poller.Unassigned()...)
	}
	return s
}

func probeLines(st *alerts.Standing) []ProbeLine {
	lines := []ProbeLine{}
	for i := range st.Probes {
		p := &st.Probes[i]
		l := probeLine(p.Probe)
		l.Marks = p.Marks
		if !p.LastAt.IsZero() {
			l.reading(p.Last, p.LastAt)
		}
		if p.Fault != 0 {
			l.Fault = p.Fault.String() + ": " + p.FaultWhy
		}
		lines = append(lines, l)
	}
	return lines
}

func (d *Daemon) askSurvey(*http.Request) (any, error) { return d.survey(), nil }

// Survey asks what answers on the daemon's board.
func (c *Client) Survey(ctx context.Context) (s Survey, err error) {
	return s, c.ask(ctx, http.MethodGet, "/probes", nil, &s)
}

// Look surveys a board while no daemon holds its buses: it reads each of the garden's probes once and lists what else answers.
// A nil garden has no probes.
func Look(ctx context.Context, root string, g *garden.Garden) (Survey, error) {
	board := bus.New(bus.Options{Root: root})
	defer board.Close()
	env := drivers.Env{Root: root, I2C: board.I2C, Serial: board.Serial, Log: slog.New(slog.DiscardHandler)}
	s := Survey{Probes: []ProbeLine{}, Unbound: []drivers.Found{}}
	taken := map[string]bool{}
	if g != nil {
		if err := s.read(ctx, env, g, taken); err != nil {
			return s, err
		}
	}
	for _, dr := range drivers.All() {
		if dr.Look == nil {
			continue
		}
		for _, f := range dr.Look(env) {
			if !taken[f.Chip+" "+f.Channel] && !taken[f.Chip+" "] {
				s.Unbound = append(s.Unbound, f)
			}
		}
	}
	return s, nil
}

// read asks every source of the garden once.
func (s *Survey) read(ctx context.Context, env drivers.Env, g *garden.Garden, taken map[string]bool) error {
	var wishes []drivers.Wish
	for i := range g.Probes {
		s.Probes = append(s.Probes, probeLine(&g.Probes[i]))
		if g.Probes[i].Source.Zero() {
			continue
		}
		w, err := drivers.ParseProbe(g.Probes[i])
		if err != nil {
			return err
		}
		taken[w.Chip+" "+w.Channel] = true
		if !w.Waits {
			wishes = append(wishes, w)
		}
	}
	groups, err := drivers.Group(wishes)
	if err != nil {
		return err
	}
	for _, group := range groups {
		s.poll(ctx, env, group)
	}
	return nil
}

func (s *Survey) poll(ctx context.Context, env drivers.Env, group []drivers.Wish) {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	src, err := group[0].Open(env, group)
	if err != nil {
		for _, w := range group {
			s.line(w.Probe).Fault = err.Error()
		}
		return
	}
	defer src.Close()
	now := time.Now().UTC().Truncate(time.Second)
	readings, faults := src.Poll(ctx)
	for _, r := range readings {
		s.line(r.Probe).reading(r, now)
	}
	for _, f := range faults {
		s.line(f.Probe).Fault = f.Kind.String() + ": " + f.Why
	}
}

func (s *Survey) line(id sensors.ProbeID) *ProbeLine {
	i := slices.IndexFunc(s.Probes, func(l ProbeLine) bool { return l.ID == string(id) })
	if i < 0 {
		return &ProbeLine{}
	}
	return &s.Probes[i]
}

// MarkAdvice checks a new mark against the pot's other one: two marks closer than a twentieth of the larger say that the probe
// hardly tells wet from dry in this pot. It gives a sentence, or "".
func MarkAdvice(other, raw int64, u units.Unit) string {
	span, size := raw-other, max(abs(raw), abs(other))
	if size == 0 || abs(span)*20 >= size {
		return ""
	}
	return fmt.Sprintf("the two marks %s and %s are too close: the probe hardly tells wet from dry here; look at its contact, or mark again when the pot is really in that state", u.Format(other), u.Format(raw))
}

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}

// NotedMarks adds to each moisture probe the marks noted in a journal, in order of time.
func NotedMarks(ctx context.Context, j *journal.Journal, lines []ProbeLine) error {
	notes, err := j.Notes(ctx, time.Time{})
	if err != nil {
		return err
	}
	for _, n := range notes {
		m, ok := alerts.ParseMark(n.At, n.Detail)
		if n.What == sensors.Repotted || n.What == sensors.Divided {
			m, ok = garden.Mark{From: n.At, Which: garden.NewEpoch}, true
		} else if n.What != sensors.Marks {
			continue
		}
		for i := range lines {
			l := &lines[i]
			if ok && l.Pot == n.Subject && l.Measures == garden.PotMoisture.String() && (m.Which == garden.NewEpoch || named(n.Detail, lines) == "" || named(n.Detail, lines) == l.ID) {
				l.Marks = append(l.Marks, m)
			}
		}
	}
	return nil
}

// named is the probe a mark's detail begins with, "" for none.
func named(detail string, lines []ProbeLine) string {
	first, _, _ := strings.Cut(detail, " ")
	for _, l := range lines {
		if l.ID == first {
			return first
		}
	}
	return ""
}
