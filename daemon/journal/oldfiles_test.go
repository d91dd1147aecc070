package journal

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

// toldBeside writes out what lies beside the past: what came late, what waits for a clock, topics, marks, sessions, lines set aside. A
// file without such rows gives no line, so that files older than this test need none.
func toldBeside(t *testing.T, j *Journal) (lines []string) {
	t.Helper()
	late, err1 := j.LateSince(bg, 0)
	for _, l := range late {
		lines = append(lines, fmt.Sprintf("late %+v", l))
	}
	held, err2 := j.Held(bg)
	for _, h := range held {
		lines = append(lines, fmt.Sprintf("held %+v", h))
	}
	topics, err3 := j.Retained(bg)
	for _, r := range topics {
		lines = append(lines, fmt.Sprintf("retained %+v", r))
	}
	mark, marked, err4 := j.Mark(bg, "influx x")
	if marked {
		lines = append(lines, fmt.Sprint("mark ", mark))
	}
	n, line, answer, err5 := j.Aside(bg, "influx x")
	if n > 0 {
		lines = append(lines, fmt.Sprintf("aside %d %q %q", n, line, answer))
	}
	until, good, err6 := j.Session(bg, "0123456789abcdef")
	if good {
		lines = append(lines, fmt.Sprint("session ", until))
	}
	if err := errors.Join(err1, err2, err3, err4, err5, err6); err != nil {
		t.Error(err)
	}
	return lines
}

// furnish puts a row of every kind into a journal: days that are over and one that is not, late readings into both, notes (a sitter's
// among them), gardens, changes, held rounds, seasons, starts and all that lies beside the past.
func furnish(t *testing.T, j *Journal) {
	t.Helper()
	keepAll(t, j, rounds(t0, 20*time.Minute, 72*2+20, 6))
	at := func(h float64) time.Time { return t0.Add(time.Duration(h * float64(time.Hour))) }
	late := func(h float64) sensors.Late {
		return sensors.Late{ID: fmt.Sprint("logger ", h), Readings: []sensors.LateReading{{At: at(h), Reading: sensors.Reading{Probe: "logger", Raw: 77, Step: sixteenth}},
			{At: at(h + 0.1), Reading: sensors.Reading{Probe: "p00", Raw: 66, Step: sixteenth, Quality: sensors.Suspect}}}}
	}
	var errs []error
	try := func(err error) { errs = append(errs, err) }
	for _, h := range []float64{3, 30, 50} {
		_, err := j.AddLate(bg, at(53), late(h))
		try(err)
	}
	for n, what := range []sensors.What{sensors.Watered, sensors.Fed, sensors.Dressed, sensors.Moved, sensors.Nose, sensors.Divided, sensors.Shoots, sensors.Marks,
		sensors.Weighed, sensors.Regime, sensors.Away, sensors.Back, sensors.Done, sensors.Seen, sensors.Snoozed, sensors.Remark} {
		note := sensors.Note{At: at(float64(n)), Made: at(float64(n) + 1), About: time.Hour, Subject: "D7", What: what, Detail: fmt.Sprint("detail ", n)}
		if what == sensors.Done {
			note.Detail = "watered 400 mL" // as a sitter's tick has it
		}
		try(j.AddNote(bg, note, []alerts.Change{change(n, fmt.Sprint("text ", n), at(90))}))
	}
	last := change(100, "", t0)
	last.Saw, last.To = "D7: water 17 %", "sitter"
	try(j.Record(bg, []alerts.Change{last}))
	try(j.AddGarden(bg, t0, "# the first\n"))
	try(j.AddGarden(bg, at(20), strings.Repeat("# one that is longer than a page\n", 200)))
	try(j.SetSeason(bg, SeasonRow{Season: 2027, Name: "drying", Version: 1, Data: []byte(`{"D7":[12,19]}`)}))
	for _, mono := range []time.Duration{time.Minute, 21 * time.Minute} {
		try(j.Hold(bg, HeldRound{Boot: "three", Mono: mono, Round: round(time.Unix(0, 0).UTC().Add(mono), 6)}))
	}
	for _, boot := range []string{"one", "one", "two"} {
		_, err := j.AddStart(bg, Start{At: t0, Boot: boot, Version: "0.1.7"}, "", "")
		try(err)
	}
	try(j.SetRetained(bg, "lathwatch/alert/D7", []byte("water")))
	try(j.SetMark(bg, "influx x", stamp(at(40))))
	try(j.SetAside(bg, "influx x", "humidity,probe=h value=50 1", "type conflict"))
	try(j.SetSession(bg, "0123456789abcdef", time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC), "a phone"))
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
}

// TestWriteJournal writes the file of this version when it is asked to: LATHWATCH_WRITE_JOURNAL=name go test -run TestWriteJournal.
func TestWriteJournal(t *testing.T) {
	name := os.Getenv("LATHWATCH_WRITE_JOURNAL")
	if name == "" {
		t.Skip("writes a file into testdata when LATHWATCH_WRITE_JOURNAL names it")
	}
	j := open(t, filepath.Join(dir(t), "new.journal"), Options{Ballast: -1, Now: func() time.Time { return t0 }})
	furnish(t, j)
	lines := told(t, j)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(j.path)
	if err != nil {
		t.Fatal(err)
	}
	for suffix, b := range map[string][]byte{".journal.gz": b, ".txt.gz": []byte(strings.Join(lines, "\n"))} {
		var z bytes.Buffer
		w, _ := gzip.NewWriterLevel(&z, gzip.BestCompression)
		_, err := w.Write(b)
		if err = errors.Join(err, w.Close()); err != nil {
			t.Fatal(err)
		}
		writeFile(t, filepath.Join("..", "..", "testdata", "journals", name+suffix), z.Bytes())
	}
}
