package journal

import (
	"compress/gzip"
	"database/sql"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// A foreign reader: written from the page "The journal's file" in DEVELOPERS.md, sharing no line with the package, plain rather than
// quick. It speaks to the file through the standard library's own interface, as any other program would.
type foreign struct {
	b   []byte
	bit int
}

func (f *foreign) uvarint() uint64 { // least significant seven bits first, high bit: more follow
	v, shift := uint64(0), 0
	for {
		c := f.b[0]
		f.b = f.b[1:]
		v |= uint64(c%128) << shift
		if shift += 7; c < 128 {
			return v
		}
	}
}

func (f *foreign) varint() int64 { // 0, -1, 1, -2 ... are 0, 1, 2, 3 ...
	u := f.uvarint()
	if u%2 == 1 {
		return -int64(u/2) - 1
	}
	return int64(u / 2)
}

func (f *foreign) text() string {
	n := f.uvarint()
	s := string(f.b[:n])
	f.b = f.b[n:]
	return s
}

func (f *foreign) times(day int64) []int64 {
	n := int(f.uvarint())
	if n == 0 {
		return nil
	}
	ts := []int64{day*24*3600*1000 + int64(f.uvarint())}
	for len(ts) < n {
		step, count := int64(f.uvarint()), f.uvarint()
		for ; count > 0; count-- {
			ts = append(ts, ts[len(ts)-1]+step)
		}
	}
	return ts
}

func (f *foreign) bits(n int) (v uint64) { // highest bit of each byte first
	for ; n > 0; n-- {
		v = v*2 + uint64(f.b[f.bit/8]>>(7-f.bit%8)&1)
		f.bit++
	}
	return v
}

func (f *foreign) rice(k int) int64 {
	ones := uint64(0)
	for ones < 20 && f.bits(1) == 1 {
		ones++
	}
	u := ones << k
	if ones == 20 {
		u = f.bits(int(f.bits(6)) + 1)
	} else {
		u += f.bits(k)
	}
	if u%2 == 1 {
		return -int64(u/2) - 1
	}
	return int64(u / 2)
}

func (f *foreign) values(first int64, n int) []int64 {
	xs := []int64{first}
	means := [6]int64{2: first * 16, 3: first * 16, 4: first * 16, 5: first * 16}
	before := first
	for len(xs) < n {
		predictor, k := int(f.bits(3)), int(f.bits(5))
		for i := 0; i < 128 && len(xs) < n; i++ {
			last := xs[len(xs)-1]
			guess := last
			if predictor == 1 {
				guess = last + last - before
			} else if predictor > 1 {
				guess = floorDiv(means[predictor]+8, 16)
			}
			x := guess + f.rice(k)
			for m, by := range map[int]int64{2: 2, 3: 4, 4: 8, 5: 16} {
				means[m] += floorDiv(x*16-means[m], by)
			}
			before = last
			xs = append(xs, x)
		}
	}
	return xs
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// foreignLines reads a file and writes a line for each reading and fault, sorted.
func foreignLines(t *testing.T, path string) []string {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	names := map[int64]string{} // series number -> probe, unit, step
	each(t, db, "select id, probe, unit, num, den from series", func(scan func(...any) error) error {
		var id, num, den int64
		var probe, unit string
		err := scan(&id, &probe, &unit, &num, &den)
		names[id] = fmt.Sprintf("%s %s %d/%d", probe, unit, num, den)
		return err
	})
	var lines []string
	say := func(t int64, what string, a ...any) {
		lines = append(lines, fmt.Sprintf("%s ", time.UnixMilli(t).UTC().Format("2006-01-02T15:04:05.000Z"))+fmt.Sprintf(what, a...))
	}
	each(t, db, "select k, b from block", func(scan func(...any) error) error {
		var k int64
		var b []byte
		if err := scan(&k, &b); err != nil {
			return err
		}
		sum := crc32.Checksum(b[:len(b)-4], crc32.MakeTable(crc32.Castagnoli))
		if string(b[:3]) != "LW\x01" || binary.LittleEndian.Uint32(b[len(b)-4:]) != sum {
			return fmt.Errorf("block %d is not sound", k)
		}
		f := &foreign{b: b[3 : len(b)-4]}
		day, probe := int64(f.uvarint()), f.text()
		if day != k>>20 {
			return fmt.Errorf("block %d is of day %d", k, day)
		}
		if probe == "" {
			for _, t := range f.times(day) {
				say(t, "nobody")
			}
			for n := f.uvarint(); n > 0; n-- {
				probe := f.text()
				kind := f.b[0]
				f.b = f.b[1:]
				why := f.text()
				for _, t := range f.times(day) {
					say(t, "%s fault %d %q", probe, kind, why)
				}
			}
			return nil
		}
		unit, num, den := f.text(), f.varint(), f.varint()
		if name := fmt.Sprintf("%s %s %d/%d", probe, unit, num, den); name != names[k&(1<<20-1)] {
			return fmt.Errorf("block %d is %s", k, name)
		}
		ts := f.times(day)
		bad := make([]bool, len(ts))
		for i, n := 0, f.uvarint(); n > 0; n-- {
			i += int(f.uvarint())
			for m := f.uvarint(); m > 0; m-- {
				bad[i] = true
				i++
			}
		}
		for i, x := range f.values(f.varint(), len(ts)) {
			say(ts[i], "%s %s %d/%d: %d %v", probe, unit, num, den, x, bad[i])
		}
		return nil
	})
	each(t, db, "select t, b from tail", func(scan func(...any) error) error {
		var at int64
		var b []byte
		if err := scan(&at, &b); err != nil {
			return err
		}
		f := &foreign{b: b[1 : len(b)-4]}
		n := f.uvarint()
		reads := n
		for ; n > 0; n-- {
			k := f.uvarint()
			say(at, "%s: %d %v", names[int64(k/2)], f.varint(), k%2 == 1)
		}
		n = f.uvarint()
		if reads+n == 0 {
			say(at, "nobody")
		}
		for ; n > 0; n-- {
			probe := f.text()
			kind := f.b[0]
			f.b = f.b[1:]
			say(at, "%s fault %d %q", probe, kind, f.text())
		}
		return nil
	})
	slices.Sort(lines)
	return lines
}

func each(t *testing.T, db *sql.DB, query string, row func(scan func(...any) error) error) {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows.Scan); err != nil {
			t.Fatal(err)
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
}

func ownLines(t *testing.T, j *Journal) []string {
	var lines []string
	for _, r := range roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})) {
		at := r.At.Format("2006-01-02T15:04:05.000Z") + " "
		if len(r.Readings)+len(r.Faults) == 0 {
			lines = append(lines, at+"nobody")
		}
		for _, x := range r.Readings {
			lines = append(lines, at+fmt.Sprintf("%s %s %d/%d: %d %v", x.Probe, x.Unit().SenML(), x.Step.Num, x.Step.Den, x.Raw, x.Quality == sensors.Suspect))
		}
		for _, f := range r.Faults {
			lines = append(lines, at+fmt.Sprintf("%s fault %d %q", f.Probe, f.Kind, f.Why))
		}
	}
	slices.Sort(lines)
	return lines
}

func TestAForeignReaderFindsEveryReadingByTheDescription(t *testing.T) {
	path := filepath.Join(dir(t), "j.journal")
	j := open(t, path, Options{})
	for day := range 3 { // every predictor is to be met
		ks := figureDay(figures(10), day)
		if err := j.KeepAll(bg, ks); err != nil {
			t.Fatal(err)
		}
	}
	keepAll(t, j, append(rounds(figureStart.Add(80*time.Hour), 10*time.Minute, 400, 8), sensors.Round{At: figureStart.Add(200 * time.Hour)}))
	ramp := sensors.Round{}
	var ramps []sensors.Round
	for i := range 300 {
		ramp.At = figureStart.Add(300*time.Hour + time.Duration(i)*time.Minute)
		ramp.Readings = []sensors.Reading{{Probe: "ramp", Raw: int64(1000 * i), Step: units.Whole(units.Light)}, {Probe: "wild", Raw: int64(i*i) << 40 * int64(1-2*(i%2)), Step: units.Whole(units.Light)}}
		ramps = append(ramps, ramp)
	}
	keepAll(t, j, ramps)
	keepAll(t, j, rounds(figureStart.Add(400*time.Hour), 10*time.Minute, 5, 8))
	want := ownLines(t, j)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	same(t, "lines", foreignLines(t, path), want)
}

// TestJournalsOfOldVersionsOpen: a file of every version the program ever wrote lies in testdata, with what it holds written out.
func TestJournalsOfOldVersionsOpen(t *testing.T) {
	folder := filepath.Join("..", "..", "testdata", "journals")
	names, err := filepath.Glob(filepath.Join(folder, "*.journal.gz"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no journals in %s: %v", folder, err)
	}
	for _, name := range names {
		path := filepath.Join(dir(t), "old.journal")
		writeFile(t, path, gunzip(t, name))
		want := gunzip(t, strings.TrimSuffix(name, ".journal.gz")+".txt.gz")
		ro := open(t, path, Options{ReadOnly: true})
		same(t, name+" read", strings.Join(told(t, ro), "\n"), string(want))
		_ = ro.Close()
		j := open(t, path, Options{Ballast: -1})
		same(t, name+" opened", strings.Join(told(t, j), "\n"), string(want))
		if v, _, _ := j.c.number("pragma user_version"); v != int64(len(migrations)) {
			t.Errorf("%s is still of version %d", name, v)
		}
		newest, _ := j.Newest(bg)
		if err := j.Keep(bg, round(newest.Add(time.Hour), 3), nil); err != nil {
			t.Error(err)
		}
	}
}

// told writes out everything that must stay readable.
func told(t *testing.T, j *Journal) []string {
	lines := ownLines(t, j)
	for _, e := range collect(t, j.Entries(bg, time.Time{}, time.Time{})) {
		if e.Note != nil {
			lines = append(lines, fmt.Sprintf("note %+v", *e.Note))
		}
		if e.Garden != nil {
			lines = append(lines, fmt.Sprintf("garden %v %+v", e.At, *e.Garden))
		}
	}
	for c, err := range j.Changes(bg, time.Time{}) {
		// what a rule saw came with version 2: without it a line is as version 1 has it
		lines = append(lines, strings.Replace(fmt.Sprintf("change %+v %v", c, err), " Saw: Until:", " Until:", 1))
	}
	starts, err := j.Starts(bg, 100) // came with version 3
	if err != nil {
		t.Error(err)
	}
	for _, s := range starts {
		lines = append(lines, fmt.Sprintf("start %+v", s))
	}
	lines = append(lines, toldBeside(t, j)...)
	rows, err := j.Seasons(bg)
	return append(lines, fmt.Sprintf("seasons %v %v", rows, err))
}

func gunzip(t *testing.T, name string) []byte {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
