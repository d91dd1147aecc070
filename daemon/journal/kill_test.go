package journal

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

func TestMain(m *testing.M) {
	if path := os.Getenv("JOURNAL_TEST_WRITER"); path != "" {
		if err := writeUntilKilled(path); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// The writer goes on where the journal ends: rounds two hours apart, so that a day is sealed every twelfth; late readings into
// sealed days; notes; backups. It says what was acknowledged, line by line.
// Where JOURNAL_TEST_SYNC says how commits are synced, it also says what it is about to do.
func writeUntilKilled(path string) error {
	begin := func(string, int) {}
	if how := os.Getenv("JOURNAL_TEST_SYNC"); how != "" {
		logModes[3] = how
		begin = func(what string, n int) { fmt.Println("begin", what, n) }
	}
	j, err := Open(path, Options{})
	if err != nil {
		return err
	}
	if r := j.Report(); !r.OK() {
		return fmt.Errorf("had to be mended: %v", r)
	}
	at, err := j.Newest(bg)
	if err != nil {
		return err
	}
	if at.IsZero() {
		at = t0
	}
	start := int(at.Sub(t0) / killEvery)
	for n := start + 1; ; n++ {
		at := t0.Add(time.Duration(n) * killEvery)
		if n%12 == 0 {
			begin("seal", n)
		} else {
			begin("round", n)
		}
		if err := j.Keep(bg, round(at, 10), []alerts.Change{change(n, "n"+strconv.Itoa(n), time.Time{})}); err != nil {
			return err
		}
		fmt.Println("round", n)
		if n%17 == 0 {
			begin("late", n)
			if _, err := j.AddLate(bg, at, lateOf(n)); err != nil {
				return err
			}
			fmt.Println("late", n)
		}
		if n%29 == 0 {
			begin("note", n)
			if err := j.AddNote(bg, sensors.Note{ID: fmt.Sprint(n), At: at, Subject: "D7", What: sensors.Watered}, nil); err != nil {
				return err
			}
			fmt.Println("note", n)
		}
		if n%113 == 0 {
			begin("backup", n)
			if _, err := j.Backup(context.Background(), "", 2); err != nil {
				return err
			}
			fmt.Println("backup", n)
		}
	}
}

const killEvery = 2 * time.Hour

// lateOf is a reading of a probe the rounds do not ask, three days before.
func lateOf(n int) sensors.Late {
	at := t0.Add(time.Duration(n)*killEvery - 72*time.Hour + time.Minute)
	return sensors.Late{Readings: []sensors.LateReading{{At: at, Reading: sensors.Reading{Probe: "logger", Raw: int64(n), Step: sixteenth}}}}
}

func TestNothingAcknowledgedIsLostWhenTheWriterIsKilled(t *testing.T) {
	kills := 50
	if os.Getenv("LATHWATCH_LONG") == "1" {
		kills = 500
	}
	path := filepath.Join(t.TempDir(), "killed.journal")
	rng := rand.New(rand.NewPCG(1, 2))
	done := map[string]bool{}
	for range kills {
		for _, line := range runWriter(t, path, time.Duration(rng.IntN(60))*time.Millisecond) {
			done[line] = true
		}
	}
	j := open(t, path, Options{})
	if r := j.Report(); !r.OK() {
		t.Errorf("the journal had to be mended: %v", r)
	}
	newest, missing := absent(t, j, done)
	for _, line := range missing {
		t.Errorf("%s was acknowledged and is not there", line)
	}
	if check, err := j.Check(bg); err != nil || !check.Sound() {
		t.Errorf("check: %+v, %v", check, err)
	}
	backups, err := j.Backups("")
	for _, b := range backups {
		_ = open(t, b, Options{ReadOnly: true})
	}
	t.Logf("%d kills, %d acknowledged, newest round %d, %d sealed days, %d backups, %v", kills, len(done), newest, j.sealed-dayOf(stamp(t0)), len(backups), err)
	if len(done) < 3*kills {
		t.Errorf("only %d acknowledgements: the test proves little", len(done))
	}
}

// absent gives the newest round of the writer's and what was acknowledged and is not there. What is there must be as it was written.
func absent(t *testing.T, j *Journal, done map[string]bool) (newest int, missing []string) {
	t.Helper()
	there := map[string]bool{}
	for e, err := range j.Entries(bg, time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Note != nil {
			there["note "+e.Note.ID] = true
			continue
		}
		n := int(e.At.Sub(t0) / killEvery)
		if n > 0 && e.At.Equal(t0.Add(time.Duration(n)*killEvery)) {
			if want := round(e.At, 10); !reflect.DeepEqual(*e.Round, want) {
				same(t, "round", *e.Round, want)
			}
			there["round "+strconv.Itoa(n)] = true
			newest = n
		} else if r := e.Round.Readings[0]; r.Probe == "logger" {
			there[fmt.Sprint("late ", r.Raw)] = true
		}
	}
	changes := map[string]bool{}
	for c, err := range j.Changes(bg, time.Time{}) {
		if err != nil || changes[c.Key] {
			t.Fatal(c.Key, err)
		}
		changes[c.Key] = true
		there["change "+strings.TrimPrefix(c.Text, "n")] = true
	}
	for line := range done {
		kind, n, _ := strings.Cut(line, " ")
		if kind == "backup" {
			continue
		}
		if !there[line] || kind == "round" && !there["change "+n] {
			missing = append(missing, line)
		}
	}
	slices.Sort(missing)
	return newest, missing
}

func runWriter(t *testing.T, path string, after time.Duration) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "JOURNAL_TEST_WRITER="+path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var lines []string
	sc := bufio.NewScanner(out)
	killed := make(chan struct{})
	for sc.Scan() {
		if strings.HasPrefix(sc.Text(), "error") {
			t.Fatal(sc.Text())
		}
		if lines = append(lines, sc.Text()); len(lines) == 1 {
			go func() {
				time.Sleep(after)
				_ = cmd.Process.Kill()
				close(killed)
			}()
		}
	}
	if len(lines) > 0 {
		<-killed
	}
	_ = cmd.Wait()
	return lines
}
