package journal

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

// The cases are failures seen in the field: each story's name says which.
func TestFieldLog(t *testing.T) {
	t.Run("D1_power_cut_damages_the_file", damagedFile)
	t.Run("D2_empty_file_after_a_sudden_stop", emptyFile)
	t.Run("D3_locked_although_a_timeout_was_set", oneConnection)
	t.Run("D4_log_grows_until_the_card_is_full", logStaysSmall)
	t.Run("D5_card_full", cardFull)
	t.Run("D6_file_system_turns_read_only", readOnlySystem)
	t.Run("D7_times_as_text_do_not_come_back", wholeMilliseconds)
	t.Run("D9_backup_by_copying_lacks_the_newest_rows", backupIsWhole)
}

// filled makes a closed journal of some days, with notes and changes, and gives its rounds.
func filled(t *testing.T, path string, o Options) []sensors.Round {
	t.Helper()
	j := open(t, path, o)
	rs := rounds(t0, 10*time.Minute, 144*9+30, 12)
	keepAll(t, j, rs)
	for n := range 40 {
		note := sensors.Note{At: rs[n*20].At, Subject: "D7", What: sensors.Watered, Detail: strings.Repeat("m", n)}
		if err := j.AddNote(bg, note, []alerts.Change{change(n, fmt.Sprint("text ", n), time.Time{})}); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.AddGarden(bg, t0, strings.Repeat("# a garden text longer than a page\n", 300)); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return rs
}

// kept counts how many of the rounds are there, each exactly as it was.
func kept(t *testing.T, j *Journal, want []sensors.Round) int {
	t.Helper()
	at := map[int64]sensors.Round{}
	for _, r := range want {
		at[stamp(r.At)] = r
	}
	n := 0
	for _, r := range roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})) {
		w, ok := at[stamp(r.At)]
		if !ok {
			t.Fatalf("a round of %v was never kept", r.At)
		}
		if len(r.Readings) == len(w.Readings) && len(r.Faults) == len(w.Faults) {
			same(t, "a round", r, w)
			n++
		}
	}
	return n
}

func zero(t *testing.T, path string, page int64) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteAt(make([]byte, 4096), (page-1)*4096); err != nil {
		t.Fatal(err)
	}
}

func writeFile(t *testing.T, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func damagedFile(t *testing.T) {
	path := filepath.Join(dir(t), "sound.journal")
	rs := filled(t, path, Options{})
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	pages := int64(len(sound) / 4096)
	healed, lostMost := 0, 0
	every := int64(3)
	if os.Getenv("LATHWATCH_LONG") == "1" {
		every = 1
	}
	tried := 0
	for page := int64(1); page <= pages; page += every { // one page of noughts, each in turn
		tried++
		path := filepath.Join(dir(t), "j.journal")
		writeFile(t, path, sound)
		writeFile(t, path+".had", nil)
		zero(t, path, page)
		j := open(t, path, Options{Ballast: -1})
		lost := len(rs) - kept(t, j, rs)
		if !j.Report().OK() {
			healed++
			if len(j.Report().SetAside) == 0 {
				t.Errorf("page %d: the damaged file was not kept: %v", page, j.Report())
			}
		}
		check, err := j.Check(bg)
		if err != nil {
			t.Fatal(err)
		}
		if lost > 0 && j.Report().OK() && check.Sound() && len(j.spoiltList()) == 0 {
			t.Errorf("page %d: %d rounds are gone and nothing says so", page, lost)
		}
		lostMost = max(lostMost, lost)
		if err := j.Keep(bg, round(rs[len(rs)-1].At.Add(time.Hour), 12), nil); err != nil {
			t.Errorf("page %d: sampling does not go on: %v", page, err)
		}
		_ = j.Close()
	}
	t.Logf("%d of %d pages, %d healed, at most %d of %d rounds touched", tried, pages, healed, lostMost, len(rs))
	if healed < tried/2 {
		t.Errorf("only %d of %d damaged files were noticed at start", healed, tried)
	}
	if lostMost > len(rs)/2 {
		t.Errorf("one page cost %d of %d rounds", lostMost, len(rs))
	}
}

func emptyFile(t *testing.T) {
	for _, way := range []string{"empty", "gone"} {
		for _, backup := range []bool{false, true} {
			path := filepath.Join(dir(t), "j.journal")
			rs := filled(t, path, Options{})
			if backup {
				j := open(t, path, Options{})
				if _, err := j.Backup(bg, "", 0); err != nil {
					t.Fatal(err)
				}
				_ = j.Close()
			}
			if err := os.Remove(path); err != nil {
				t.Fatal(err)
			}
			if way == "empty" {
				writeFile(t, path, nil)
			}
			j := open(t, path, Options{})
			r := j.Report()
			if r.OK() || !strings.Contains(r.Problem, way) {
				t.Errorf("%s, backup %v: taken for a fresh start: %v", way, backup, r)
			}
			if got := kept(t, j, rs); backup && got != len(rs) || !backup && got != 0 {
				t.Errorf("%s, backup %v: %d of %d rounds", way, backup, got, len(rs))
			}
			_ = j.Close()
		}
	}
	path := filepath.Join(dir(t), "new.journal")
	writeFile(t, path, nil)
	if r := open(t, path, Options{}).Report(); !r.OK() {
		t.Errorf("an empty file that never held data is a fresh start, not %v", r)
	}
}

func oneConnection(t *testing.T) {
	path := filepath.Join(dir(t), "j.journal")
	j := open(t, path, Options{})
	_, err := Open(path, Options{})
	if !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), fmt.Sprint("process ", os.Getpid())) {
		t.Errorf("a second daemon gets %v", err)
	}
	if _, err := Open(path, Options{ReadOnly: true}); !errors.Is(err, ErrInUse) {
		t.Errorf("a reader beside a daemon gets %v", err)
	}
	keepAll(t, j, rounds(t0, time.Minute, 3, 3))
}

func logStaysSmall(t *testing.T) {
	j := fresh(t)
	largest := int64(0)
	for i := range 1800 {
		if err := j.Keep(bg, round(t0.Add(time.Duration(i)*time.Minute), 20), nil); err != nil {
			t.Fatal(err)
		}
		if fi, err := os.Stat(j.path + "-wal"); err == nil {
			largest = max(largest, fi.Size())
		}
		if i%500 == 0 { // a reader that leaves half-way holds nothing
			for range j.Entries(bg, time.Time{}, time.Time{}) {
				break
			}
		}
	}
	if largest > 5<<20 {
		t.Errorf("the log grew to %d bytes", largest)
	}
	if err := j.Tidy(bg); err != nil {
		t.Fatal(err)
	}
	if h, err := j.Health(bg); err != nil || h.Log != 0 {
		t.Errorf("after the nightly checkpoint the log has %d bytes, %v", h.Log, err)
	}
}

func cardFull(t *testing.T) {
	path := filepath.Join(dir(t), "j.journal")
	j := open(t, path, Options{})
	rs := rounds(t0, 10*time.Minute, 144*6, 20)
	keepAll(t, j, rs[:100])
	pages, _, err := j.c.number("pragma page_count")
	if err != nil {
		t.Fatal(err)
	}
	if err := j.c.script(fmt.Sprint("pragma max_page_count = ", pages+3)); err != nil {
		t.Fatal(err)
	}
	acknowledged, refused := 100, 0
	for _, r := range rs[100:] {
		err := j.Keep(bg, r, nil)
		switch {
		case err == nil && refused > 0:
			t.Fatal("a later round was kept after one was refused: the card cannot have grown")
		case err == nil:
			acknowledged++
		case !errors.Is(err, ErrFull):
			t.Fatalf("a full card is told as %v", err)
		default:
			refused++
		}
		if refused > 5 {
			break
		}
	}
	if refused == 0 || exists(j.ballastPath()) {
		t.Fatalf("%d refused; the ballast is still there: %v", refused, exists(j.ballastPath()))
	}
	if got := kept(t, j, rs); got != acknowledged {
		t.Errorf("%d rounds are there, %d were acknowledged", got, acknowledged)
	}
	if err := j.c.script("pragma max_page_count = 1000000"); err != nil {
		t.Fatal(err)
	}
	for i, r := range rs[acknowledged:] {
		if err := j.Keep(bg, r, nil); err != nil {
			t.Fatalf("round %d after room was made: %v", i, err)
		}
	}
	if got := kept(t, j, rs); got != len(rs) {
		t.Errorf("%d of %d rounds", got, len(rs))
	}
	if err := j.Tidy(bg); err != nil || !exists(j.ballastPath()) {
		t.Errorf("the ballast was not laid again: %v", err)
	}
}

func readOnlySystem(t *testing.T) {
	dir := dir(t)
	path := filepath.Join(dir, "j.journal")
	rs := filled(t, path, Options{Ballast: -1})
	if os.Getuid() == 0 && mount(t, "tmpfs", dir+"/ro", "tmpfs", "size=8m") {
		ro := filepath.Join(dir, "ro", "j.journal")
		for _, s := range []string{"", ".had"} {
			if err := copyFile(ro+s, path+s); err != nil {
				t.Fatal(err)
			}
		}
		if out, err := exec.Command("mount", "-o", "remount,ro", dir+"/ro").CombinedOutput(); err != nil {
			t.Skipf("cannot remount: %s", out)
		}
		j, err := Open(ro, Options{Ballast: -1})
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		if j.Report().OK() || kept(t, j, rs) != len(rs) {
			t.Errorf("on a read-only file system: %v", j.Report())
		}
		if err := j.Keep(bg, round(rs[0].At.Add(time.Second), 2), nil); !errors.Is(err, ErrReadOnly) {
			t.Errorf("keeping gives %v", err)
		}
	}
	j := open(t, path, Options{Ballast: -1})
	if err := j.c.script("pragma query_only = 1"); err != nil { // what the engine says when the system turns under it
		t.Fatal(err)
	}
	if err := j.Keep(bg, round(rs[0].At.Add(time.Second), 2), nil); !errors.Is(err, ErrReadOnly) {
		t.Errorf("keeping gives %v", err)
	}
	if kept(t, j, rs) != len(rs) {
		t.Error("what was there can no longer be read")
	}
}

// mount makes a small file system for the test and reports whether it could.
func mount(t *testing.T, what, where, kind, options string) bool {
	t.Helper()
	if err := os.MkdirAll(where, 0o700); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mount", "-t", kind, "-o", options, what, where).CombinedOutput(); err != nil {
		t.Logf("cannot mount a file system here: %s", bytes.TrimSpace(out))
		return false
	}
	t.Cleanup(func() { _ = exec.Command("umount", where).Run() })
	return true
}

func wholeMilliseconds(t *testing.T) {
	j := fresh(t)
	at := time.Date(2026, 3, 29, 1, 59, 59, 999_999_999, time.FixedZone("", 3600))
	if err := j.Keep(bg, sensors.Round{At: at, Readings: []sensors.Reading{{Probe: "a", Raw: 1, Step: counts}}}, nil); err != nil {
		t.Fatal(err)
	}
	got := roundsIn(t, j.Entries(bg, time.Time{}, time.Time{}))
	if len(got) != 1 || !got[0].At.Equal(at.Truncate(time.Millisecond)) || got[0].At.Location() != time.UTC {
		t.Errorf("%v came back as %v", at, got)
	}
	defer func() {
		if recover() == nil {
			t.Error("a time is bound as text")
		}
	}()
	_, _ = j.c.exec("insert into mark (name, value) values ('x', ?)", time.Now())
}

func backupIsWhole(t *testing.T) {
	path := filepath.Join(dir(t), "j.journal")
	now := t0
	j := open(t, path, Options{Now: func() time.Time { return now }})
	rs := rounds(t0, 10*time.Minute, 800, 20)
	keepAll(t, j, rs)
	var last string
	for range 5 {
		now = now.Add(24 * time.Hour)
		p, err := j.Backup(bg, "", 0)
		if err != nil {
			t.Fatal(err)
		}
		last = p
	}
	names, err := j.Backups("")
	if err != nil || len(names) != 3 || names[2] != last {
		t.Errorf("the backups are %v, %v; three are kept", names, err)
	}
	b := open(t, last, Options{ReadOnly: true})
	same(t, "rounds in the backup", roundsIn(t, b.Entries(bg, time.Time{}, time.Time{})), rs)
	head, err := os.ReadFile(last)
	if err != nil || exists(last+"-wal") || head[18] != 1 || binary.BigEndian.Uint32(head[68:]) != applicationID {
		t.Errorf("the backup needs a log beside it: %v", err)
	}
}
