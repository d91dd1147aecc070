package journal

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lathwatch/sensors"
)

// Each page in turn is gone. Whatever is not there afterwards is named, and what is there is not.
func TestSalvageNamesWhatItCouldNotBringBack(t *testing.T) {
	folder := dir(t)
	path := filepath.Join(folder, "j.journal")
	_ = filled(t, path, Options{})
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	want, lost := salvaged(t, folder, sound)
	if len(lost) > 0 {
		t.Fatalf("of a sound file %v are said to be lost", lost)
	}
	every := 4
	if os.Getenv("LATHWATCH_LONG") == "1" {
		every = 1
	}
	var texts, days, notes, unnamed int
	for page := 0; page < len(sound)/pageSize; page += every {
		bad := slices.Clone(sound)
		clear(bad[page*pageSize:][:pageSize])
		got, lost := salvaged(t, folder, bad)
		said := strings.Join(lost, "\n")
		texts += strings.Count(said, "garden's text in force from 2026-11-25T00:00:00Z on")
		days += strings.Count(said, "lost on 2026-")
		notes += strings.Count(said, "lost notes, of 2026-")
		if missing := without(want, got); len(missing) > 0 && len(lost) == 0 {
			unnamed++
			t.Errorf("page %d: %d lines are gone, and the report names nothing; the first: %.100s", page+1, len(missing), missing[0])
		} else if len(missing) == 0 && len(lost) > 0 {
			t.Errorf("page %d: everything is there, and the report says %v", page+1, lost)
		}
	}
	t.Logf("named: %d garden texts, %d days, %d times notes", texts, days, notes)
	if days == 0 || every == 1 && (texts == 0 || notes == 0) {
		t.Error("no page of readings, notes or the garden's text was hit: the test proves little")
	}
}

// salvaged gives what came back of a file, as told, and what the report says is lost.
func salvaged(t *testing.T, folder string, b []byte) (lines, lost []string) {
	t.Helper()
	src, dst := filepath.Join(folder, "broken.journal"), filepath.Join(folder, "saved.journal")
	writeFile(t, src, b)
	r, err := Salvage(src, dst)
	if err != nil {
		t.Fatal(err)
	}
	j := open(t, dst, Options{Ballast: -1})
	lines = told(t, j)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if err := removeAll(dst); err != nil {
		t.Fatal(err)
	}
	return lines, r.Lost
}

func without(all, some []string) (missing []string) {
	there := map[string]bool{}
	for _, s := range some {
		there[s] = true
	}
	for _, s := range all {
		if !there[s] {
			missing = append(missing, s)
		}
	}
	return missing
}

func TestAHopelessFileGivesNoNewOneAndSaysSo(t *testing.T) {
	for name, b := range map[string][]byte{"empty": nil, "noughts": make([]byte, 40960), "a text": []byte(strings.Repeat("no journal\n", 2000)), "a byte": {1}} {
		folder := dir(t)
		src, dst := filepath.Join(folder, "j.journal"), filepath.Join(folder, "new.journal")
		writeFile(t, src, b)
		r, err := Salvage(src, dst)
		if err != nil || len(r.Lost) != 1 || !strings.HasPrefix(r.Lost[0], "everything") {
			t.Errorf("%s: %v, %v", name, r, err)
		}
		if es, _ := os.ReadDir(folder); len(es) != 1 {
			t.Errorf("%s: %v lie beside it", name, es)
		}
	}
	// One round is worth a file.
	path := filepath.Join(dir(t), "j.journal")
	j := open(t, path, Options{Ballast: -1})
	keepAll(t, j, []sensors.Round{round(t0, 3)})
	_ = j.Close()
	if r, err := Salvage(path, path+".new"); err != nil || len(r.Lost) > 0 || !exists(path+".new") {
		t.Errorf("%v, %v", r, err)
	}
}
