package journal

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

// FuzzSalvage: a file broken anywhere is salvaged without a fault, and nothing comes out of it that never went in: no reading of a probe the
// file knew, no note under an id of our own and no garden text other than as they were, and every reading is some probe's of that instant.
func FuzzSalvage(f *testing.F) {
	path := filepath.Join(dir(f), "j.journal")
	j := open(f, path, Options{Ballast: -1})
	rs := rounds(t0, 30*time.Minute, 48*3+20, 6)
	keepAll(f, j, rs)
	for n := range 12 {
		note := sensors.Note{At: rs[n*5].At, Subject: "D7", What: sensors.Watered, Detail: fmt.Sprint(100+n, " mL")}
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
		_, err := Salvage(broken, whole)
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
				if ours(n.ID) && n.ID != digest(fmt.Sprint(stamp(n.At)), n.Subject, string(n.What), n.Detail) {
					t.Errorf("made up: %+v", n)
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
