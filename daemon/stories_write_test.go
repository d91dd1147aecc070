package daemon

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors/tape"
)

// writeTo writes a story as what `lathwatch rehearse` takes: garden.toml, readings.csv, notes.csv. What loggers deliver late is left out.
func (s *story) writeTo(t testing.TB, folder string) {
	t.Helper()
	var readings, notes bytes.Buffer
	if err := tape.WriteReadings(&readings, slices.Values(s.rows)); err != nil {
		t.Fatal(err)
	}
	if err := tape.WriteNotes(&notes, s.notes); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string][]byte{"garden.toml": []byte(s.toml), "readings.csv": readings.Bytes(), "notes.csv": notes.Bytes()} {
		if err := os.WriteFile(filepath.Join(folder, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// A story written as files and read again says the same.
func TestAStoryAsFilesSaysTheSame(t *testing.T) {
	for _, id := range []string{"01", "04", "06"} {
		s := loadStory(t, "../testdata/stories/"+id+".txtar")
		dir := t.TempDir()
		s.writeTo(t, dir)
		again := *s
		for name, read := range map[string]func(f *os.File) (int, error){
			"readings.csv": func(f *os.File) (n int, err error) {
				var bad []*tape.RowError
				again.rows, bad, err = tape.ReadReadings(f.Name(), f)
				return len(bad), err
			},
			"notes.csv": func(f *os.File) (n int, err error) {
				var bad []*tape.RowError
				again.notes, bad, err = tape.ReadNotes(f.Name(), f)
				return len(bad), err
			}} {
			f, err := os.Open(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			if bad, err := read(f); bad > 0 || err != nil {
				t.Error(name, bad, err)
			}
			_ = f.Close()
		}
		if diff := cmp.Diff(list(s.tell(t, nil).said), list(again.tell(t, nil).said)); diff != "" {
			t.Errorf("story %s as it is (-) and as files (+):\n%s", id, diff)
		}
	}
}
