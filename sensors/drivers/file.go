package drivers

import (
	"bytes"
	"cmp"
	"context"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/tape"
	"lathwatch/sensors/units"
)

// A CSV of the readings.csv form that another program appends to.
func init() {
	add(Driver{
		Name: "file",
		Doc:  "a CSV that another program appends to: time,probe,value,unit as in readings.csv.",
		Example: `[[probe]]
id = "wall-air"
measures = "air-temperature"
place = "wall"
[probe.file]
path = "/var/spool/garden/readings.csv"
probe = "north-3"
`,
		Parse: parseFile,
	})
}

type fileTable struct {
	Path  string `toml:"path" help:"the file"`
	Probe string `toml:"probe" help:"its name in the file; the probe's own id when missing"`
}

func parseFile(p garden.Probe) (Wish, error) {
	of := fileTable{Probe: string(p.ID)}
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if !filepath.IsAbs(of.Path) {
		return Wish{}, p.Source.Errorf("path", "%q: write the whole path, beginning with /", of.Path)
	}
	if !garden.SafeID(of.Probe) {
		return Wish{}, p.Source.Errorf("probe", "%q: write the name it has in the file, letters, digits and hyphens only", of.Probe)
	}
	return Wish{Probe: p.ID, Bus: "files", Chip: "file " + of.Path, Channel: "probe " + of.Probe, Apart: true, Waits: true, Every: p.Every, Open: openFile, Of: of}, nil
}

const (
	fileHeader = "time,probe,value,unit"
	fileSlice  = 1 << 20  // read at once
	longestRow = 64 << 10 // a line longer than this is no row
)

func openFile(env Env, wishes []Wish) (Source, error) {
	s := &fileSource{env: env, path: env.path(wishes[0].Of.(fileTable).Path), wishes: map[string]Wish{}, order: wishes, heard: map[string]time.Time{}}
	for _, w := range wishes {
		s.wishes[w.Of.(fileTable).Probe] = w
		s.heard[w.Of.(fileTable).Probe] = time.Now()
	}
	return s, nil
}

// fileSource follows one growing file through truncation and rotation.
type fileSource struct {
	env    Env
	path   string
	order  []Wish
	wishes map[string]Wish      // by name in the file
	heard  map[string]time.Time // when a row last came, or following began

	f    *os.File
	done int64  // read up to here
	tail []byte // the last bytes before that, to notice that the file was begun anew
	late []sensors.LateReading
}

// Close lets the file go.
func (s *fileSource) Close() error {
	if s.f == nil {
		return nil
	}
	err := s.f.Close()
	s.f = nil
	return err
}

// Late hands over rows older than the round.
func (s *fileSource) Late() []sensors.LateReading {
	late := s.late
	s.late = nil
	return late
}

// Poll reads what was appended since. Of each probe the newest row is the round's, if it is recent; rows from long ago come
// late, under their own time.
func (s *fileSource) Poll(ctx context.Context) (rs []sensors.Reading, fs []sensors.Fault) {
	newest := map[string]*sensors.LateReading{}
	wrong := map[string]error{}
	err := s.follow(ctx, func(chunk []byte) { s.rows(chunk, newest, wrong) })
	now := time.Now()
	for _, w := range s.order {
		name := w.Of.(fileTable).Probe
		switch limit := 3 * max(w.Every, s.every()); {
		case newest[name] != nil:
			rs = append(rs, newest[name].Reading)
		case wrong[name] != nil:
			fs = append(fs, faultOf(w.Probe, wrong[name]))
		case err != nil:
			fs = append(fs, faultOf(w.Probe, err))
		case now.Sub(s.heard[name]) > limit:
			fs = append(fs, sensors.Fault{Probe: w.Probe, Kind: sensors.Silent, Why: "no new row"})
		}
	}
	return rs, fs
}

// rows takes whole lines.
func (s *fileSource) rows(chunk []byte, newest map[string]*sensors.LateReading, wrong map[string]error) {
	now := time.Now()
	rows, bad, _ := tape.ReadReadings(s.path, io.MultiReader(strings.NewReader(fileHeader+"\n"), bytes.NewReader(chunk)))
	if len(bad) > 0 {
		lines := strings.Split(string(chunk), "\n")
		for _, b := range bad {
			s.log().Warn("row left out", "file", s.path, "why", b.Say)
			if f := strings.Split(lines[max(b.Line-2, 0)], ","); len(f) > 1 {
				wrong[strings.TrimSpace(f[1])] = garbled("%s", b.Say)
			}
		}
	}
	for _, row := range rows {
		name := string(row.Probe)
		w, ours := s.wishes[name]
		if !ours || s.env.After != nil && !row.At.After(s.env.After(w.Probe)) {
			continue
		}
		r, err := s.reading(w, row, now)
		if err != nil {
			wrong[name] = err
			continue
		}
		s.heard[name] = now
		l := sensors.LateReading{At: row.At, Reading: r}
		switch n := newest[name]; {
		case now.Sub(row.At) > max(w.Every, s.every()):
			s.late = append(s.late, l)
		case n == nil || !row.At.Before(n.At):
			newest[name] = &l
			delete(wrong, name)
		}
	}
}

// reading brings a row's value to a thousandth of the unit's whole number, whatever digits were written.
func (s *fileSource) reading(w Wish, row tape.Row, now time.Time) (sensors.Reading, error) {
	if row.At.After(now.Add(ahead)) {
		return sensors.Reading{}, implausible("its clock says %s", row.At.Format(time.RFC3339))
	}
	if row.Raw > 1<<50 || row.Raw < -1<<50 {
		return sensors.Reading{}, garbled("far too large")
	}
	a := plausible(answer{raw: row.Raw * 1000 / int64(cmp.Or(row.Step.Den, 1)), step: units.Step{Unit: row.Step.Unit, Num: 1, Den: 1000}})
	return sensors.Reading{Probe: w.Probe, Raw: a.raw, Step: a.step}, a.err
}

func (s *fileSource) every() time.Duration { return cmp.Or(s.env.Every, recentRound) }

func (s *fileSource) log() *slog.Logger { return cmp.Or(s.env.Log, slog.New(slog.DiscardHandler)) }
