package journal

import (
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"lathwatch/sensors"
)

// killed gives the files of a journal as a kill leaves them, with a log beside them, and its rounds.
func killed(t *testing.T) (file, log []byte, rs []sensors.Round) {
	t.Helper()
	path := filepath.Join(dir(t), "j.journal")
	j := open(t, path, Options{Ballast: -1})
	rs = rounds(t0, 10*time.Minute, 144*3+60, 10)
	keepAll(t, j, rs[:144*2])
	if err := j.Tidy(bg); err != nil {
		t.Fatal(err)
	}
	for _, r := range rs[144*2:] {
		if err := j.Keep(bg, r, nil); err != nil {
			t.Fatal(err)
		}
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	log, err = os.ReadFile(path + "-wal")
	if err != nil || len(log) < 100_000 {
		t.Fatal(len(log), err)
	}
	return file, log, rs
}

func TestADamagedLogNeverKeepsTheJournalFromOpening(t *testing.T) {
	file, log, rs := killed(t)
	rng := rand.New(rand.NewPCG(5, 6))
	tries := 40
	if os.Getenv("LATHWATCH_LONG") == "1" {
		tries = 400
	}
	clean, healed := 0, 0
	for i := range tries {
		bad := append([]byte(nil), log...)
		at := rng.IntN(len(bad))
		switch i % 4 {
		case 0:
			bad = bad[:at]
		case 1:
			bad[at] ^= 1 << rng.IntN(8)
		case 2:
			clear(bad[at:min(at+4096, len(bad))])
		case 3:
			bad = nil
		}
		path := filepath.Join(dir(t), "j.journal")
		writeFile(t, path, file)
		writeFile(t, path+".had", nil)
		if bad != nil {
			writeFile(t, path+"-wal", bad)
		}
		j := open(t, path, Options{Ballast: -1})
		n := kept(t, j, rs) // each round there is exactly as it was
		if n < 144*2 {
			t.Errorf("damage %d at %d: %d rounds; those before the log are not its to lose", i%4, at, n)
		}
		if j.Report().OK() {
			clean++
		} else {
			healed++
		}
		if err := j.Keep(bg, round(rs[len(rs)-1].At.Add(time.Hour), 10), nil); err != nil {
			t.Error(err)
		}
		_ = j.Close()
	}
	t.Logf("%d opened as if the log were shorter, %d were mended", clean, healed)
}

func TestATruncatedFileIsMended(t *testing.T) {
	file, log, rs := killed(t)
	for _, keep := range []int{1, 511, 4096, len(file) / 3, len(file) - 4096, len(file) - 1} {
		path := filepath.Join(dir(t), "j.journal")
		writeFile(t, path, file[:keep])
		writeFile(t, path+"-wal", log)
		writeFile(t, path+".had", nil)
		j := open(t, path, Options{Ballast: -1})
		if n := kept(t, j, rs); n < 180 { // the log holds the newest day and a half
			t.Errorf("cut to %d of %d bytes: %d rounds; %v", keep, len(file), n, j.Report())
		}
		if check, err := j.Check(bg); err != nil || !check.Sound() {
			t.Errorf("cut to %d: %+v %v", keep, check, err)
		}
		_ = j.Close()
	}
}

func TestAForeignFileIsLeftAlone(t *testing.T) {
	path := filepath.Join(dir(t), "other.db")
	c := rowTable(t, path)
	_ = c.close()
	before, _ := os.ReadFile(path)
	if _, err := Open(path, Options{}); err == nil {
		t.Error("another program's file was opened")
	}
	text := filepath.Join(dir(t), "garden.toml")
	writeFile(t, text, []byte("# a garden, not a journal: somebody has mixed up two paths\n"))
	if _, err := Open(text, Options{}); err == nil {
		t.Error("a text was opened")
	}
	after, _ := os.ReadFile(path)
	if string(after) != string(before) || exists(text+".damaged") {
		t.Error("a foreign file was changed")
	}
}

func TestSalvageReadsAllOfASoundFileAndMostOfABrokenOne(t *testing.T) {
	folder := dir(t)
	path := filepath.Join(folder, "j.journal")
	rs := filled(t, path, Options{})
	j := open(t, path, Options{})
	want := told(t, j)
	_ = j.Close()
	if _, err := Salvage(path, filepath.Join(folder, "whole.journal")); err != nil {
		t.Fatal(err)
	}
	w := open(t, filepath.Join(folder, "whole.journal"), Options{})
	got := told(t, w)
	same(t, "everything of a sound file", got[:len(got)-1], want[:len(want)-1])
	days, err := w.DaySummary(bg, "p00", dateOn(t0), dateOn(t0)+20)
	if err != nil || len(days) != 10 {
		t.Errorf("%d day summaries, %v", len(days), err)
	}
	if _, err := Salvage(path, filepath.Join(folder, "whole.journal")); err == nil {
		t.Error("a file that is there was written over")
	}
	b, _ := os.ReadFile(path)
	rng := rand.New(rand.NewPCG(8, 9))
	for range len(b) / 4096 / 10 { // a tenth of all pages, among them the first
		clear(b[rng.IntN(len(b)/4096)*4096:][:4096])
	}
	clear(b[:4096])
	broken := filepath.Join(folder, "broken.journal")
	writeFile(t, broken, b)
	r, err := Salvage(broken, filepath.Join(folder, "most.journal"))
	if err != nil {
		t.Fatal(err)
	}
	m := open(t, filepath.Join(folder, "most.journal"), Options{})
	n := 0
	for _, l := range told(t, m) {
		if l != "" {
			n++
		}
	}
	t.Logf("%d of %d lines, %d of %d rounds whole; %v", n, len(want), kept(t, m, rs), len(rs), r)
	if n < len(want)/2 {
		t.Errorf("only %d of %d lines were had back", n, len(want))
	}
}

func TestACardThatIsReallyFullCostsNothingAcknowledged(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("mounting a small file system needs root")
	}
	where := filepath.Join(dir(t), "card")
	if !mount(t, "tmpfs", where, "tmpfs", "size=700k") {
		t.Skip("no small file system can be mounted here")
	}
	path := filepath.Join(where, "j.journal")
	j := open(t, path, Options{Ballast: 64 << 10, Backups: dir(t)})
	var done []sensors.Round
	refused := 0
	all := rounds(t0, 10*time.Minute, 144*60, 20)
	for _, r := range all {
		err := j.Keep(bg, r, nil)
		if err == nil {
			done = append(done, r)
			continue
		}
		if !errors.Is(err, ErrFull) {
			t.Fatalf("told as %v", err)
		}
		if refused++; refused > 20 {
			break
		}
	}
	if refused == 0 || len(done) < 100 {
		t.Fatalf("%d kept, %d refused", len(done), refused)
	}
	if n := kept(t, j, all); n != len(done) {
		t.Errorf("%d rounds, %d acknowledged", n, len(done))
	}
	_ = j.Close()
	j = open(t, path, Options{Ballast: 64 << 10, Backups: dir(t)}) // on the full card
	if n := kept(t, j, all); n != len(done) || !j.Report().OK() {
		t.Errorf("opened again on a full card: %d rounds of %d, %v", n, len(done), j.Report())
	}
	if out, err := exec.Command("mount", "-o", "remount,size=8m", where).CombinedOutput(); err != nil {
		t.Skipf("%v: %s", err, out)
	}
	if err := j.Keep(bg, round(all[len(all)-1].At.Add(time.Hour), 20), nil); err != nil {
		t.Errorf("after room was made: %v", err)
	}
	t.Logf("%d kept, then full, then on", len(done))
}
