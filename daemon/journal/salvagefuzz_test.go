package journal

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// FuzzSalvage: a file broken anywhere is salvaged without a fault, and nothing comes out of it that never went in: no reading of a probe the
// file knew and no garden text other than as it was, no note under an id of our own that is not named as doubtful, and every reading is
// some probe's of that instant.
func FuzzSalvage(f *testing.F) {
	path := filepath.Join(dir(f), "j.journal")
	j := open(f, path, Options{Ballast: -1})
	rs := rounds(t0, 30*time.Minute, 48*3+20, 6)
	keepAll(f, j, rs)
	wrote := map[string]bool{} // id and detail
	for n := range 12 {
		note := sensors.Note{At: rs[n*5].At, Subject: "D7", What: sensors.Watered, Detail: fmt.Sprint(100+n, " mL")}
		note.ID = tape.NoteID(note)
		wrote[note.ID+note.Detail] = true
		if err := j.AddNote(bg, note, []alerts.Change{change(n, fmt.Sprint("text ", n), time.Time{})}); err != nil {
			f.Fatal(err)
		}
	}
	if err := j.AddGarden(bg, t0, "# a garden text\n"); err != nil {
		f.Fatal(err)
	}
	if err := j.Close(); err != nil {
		f.Fatal(err)
	}
	sound, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	went := map[string]bool{}
	var ids []sensors.ProbeID
	for _, r := range rs {
		for _, rd := range r.Readings {
			went[reading(r.At, rd)], went[worth(r.At, rd)] = true, true
			if !slices.Contains(ids, rd.Probe) {
				ids = append(ids, rd.Probe)
			}
		}
	}
	f.Add([]byte{})
	f.Add([]byte{1, 0, 0, 0, 1, 1, 0, 0})
	f.Add([]byte{0, 2, 255, 15, 0, 3, 250, 15, 2, 4, 0, 1})
	f.Add([]byte{3, 2, 5, 0, 2, 9, 0, 0})
	f.Fuzz(func(t *testing.T, harm []byte) {
		if len(harm) > 64 {
			return
		}
		folder := dir(t)
		broken, whole := filepath.Join(folder, "broken"), filepath.Join(folder, "whole")
		writeFile(t, broken, harmed(sound, harm))
		report, err := Salvage(broken, whole)
		if err != nil {
			return // nothing to be had, and said so
		}
		w, err := Open(whole, Options{Ballast: -1})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		for e, err := range w.Entries(bg, time.Time{}, time.Time{}) {
			if err != nil {
				t.Fatal(err)
			}
			switch {
			case e.Round != nil:
				for _, rd := range e.Round.Readings {
					if slices.Contains(ids, rd.Probe) && !went[reading(e.At, rd)] || !went[worth(e.At, rd)] {
						t.Errorf("made up: %s", reading(e.At, rd))
					}
				}
			case e.Note != nil:
				n := *e.Note
				told := slices.ContainsFunc(report.Lost, func(s string) bool {
					return strings.Contains(s, n.At.Format(time.RFC3339)) && strings.Contains(s, strconv.Quote(n.Detail))
				})
				if ours(n.ID) && !wrote[n.ID+n.Detail] && !told {
					t.Errorf("made up without a word: %+v", n)
				}
			case e.Garden != nil && e.Garden.Text != "# a garden text\n":
				t.Errorf("made up: %q", e.Garden.Text)
			}
		}
	})
}

func reading(at time.Time, r sensors.Reading) string {
	return fmt.Sprint(at.UnixMilli(), r.Probe, r.Raw, r.Step, r.Quality)
}

// worth is a reading whoever said it.
func worth(at time.Time, r sensors.Reading) string { return fmt.Sprint(at.UnixMilli(), r.Raw) }

// harmed breaks a file by steps of four bytes: what, page, and where on it. A byte is turned, a page zeroed, the file cut, or one page laid
// over another.
func harmed(sound, harm []byte) []byte {
	b := append([]byte(nil), sound...)
	for ; len(harm) >= 4 && len(b) >= pageSize; harm = harm[4:] {
		pages := len(b) / pageSize
		page := b[int(harm[1])%pages*pageSize:][:pageSize]
		at := (int(harm[2]) | int(harm[3])<<8) % pageSize
		switch harm[0] % 4 {
		case 0:
			page[at] ^= harm[0]>>2 | 1
		case 1:
			clear(page[at:])
		case 2:
			b = b[:len(b)-int(harm[1])%pages*pageSize-at]
		case 3:
			copy(page, b[int(harm[2])%pages*pageSize:][:pageSize])
		}
	}
	return b
}

// TestANoteThatMayHaveBeenHarmedIsKeptAndNamed: one letter is turned in one note's row; another program's id looks like ours and vouches
// for nothing, so that note is named as well. A note whose time has more digits than the journal keeps is not.
func TestANoteThatMayHaveBeenHarmedIsKeptAndNamed(t *testing.T) {
	path := filepath.Join(dir(t), "j.journal")
	j := open(t, path, Options{Ballast: -1})
	for _, n := range []sensors.Note{{At: t0, Subject: "D7", What: sensors.Watered, Detail: "150 mL"}, {At: t0.Add(123456789 * time.Nanosecond), Subject: "D8", What: sensors.Watered, Detail: "155 mL"},
		{At: t0.Add(time.Hour), Subject: "D9", What: sensors.Watered, Detail: "160 mL", ID: "00aa11bb22cc33dd"}, {At: t0.Add(time.Hour), Subject: "D10", What: sensors.Watered, Detail: "165 mL", ID: "phone-7"}} {
		n, err := tape.Checked(n)
		if err != nil {
			t.Fatal(err)
		}
		if err := j.AddNote(bg, n, nil); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	writeFile(t, path, []byte(strings.ReplaceAll(string(b), "150 mL", "950 mL")))
	r, err := Salvage(path, path+".new")
	if err != nil {
		t.Fatal(err)
	}
	said := strings.Join(r.Lost, "\n")
	for detail, named := range map[string]bool{"950 mL": true, "155 mL": false, "160 mL": true, "165 mL": false} {
		if strings.Contains(said, strconv.Quote(detail)) != named {
			t.Errorf("%s: named is to be %v in %q", detail, named, said)
		}
	}
	w := open(t, path+".new", Options{Ballast: -1})
	notes, err := w.Notes(bg, time.Time{})
	if err != nil || len(notes) != 4 {
		t.Errorf("%d notes, %v", len(notes), err)
	}
}
