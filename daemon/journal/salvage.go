package journal

import (
	"bytes"
	"context"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// Salvage reads what can be read from a damaged file, page by page and without its tables of contents, into a new journal at dst.
// Sealed days and tail rows count only with a good checksum; what is there twice is there once afterwards. src and the log beside
// it are not changed.
func Salvage(src, dst string) (Report, error) {
	if exists(dst) {
		return Report{}, fmt.Errorf("salvaging %s: %s is there already: name a new file", src, dst)
	}
	if fi, err := os.Stat(src); err != nil {
		return Report{}, fmt.Errorf("salvaging %s: %w", src, err)
	} else if holder, held := heldBy(src); held {
		return Report{}, fmt.Errorf("salvaging %s: %w by process %s", src, ErrInUse, holder)
	} else if fi.IsDir() {
		return Report{}, fmt.Errorf("salvaging %s: it is a folder", src)
	}
	j, err := Open(dst, Options{Ballast: -1})
	if err != nil {
		return Report{}, err
	}
	r := Report{At: time.Now().UTC(), Problem: "salvaged from " + src}
	got, err := j.salvage(src, src+"-wal")
	if err == nil {
		r.did("%s", got)
		r.Lost = append(got.lost, j.holes()...)
	}
	if err = errors.Join(err, j.Close()); err == nil && got.nothing() {
		r.Lost = append(r.Lost, "everything: not one round, note or garden text came back, and no new file was made")
		err = removeAll(dst)
	}
	if err != nil {
		return r, fmt.Errorf("salvaging %s: %w", src, err)
	}
	return r, nil
}

// removeAll removes a journal and what lies beside it.
func removeAll(path string) error {
	for _, kind := range []string{"", "-wal", ".lock", ".had"} {
		if err := os.Remove(path + kind); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

// A haul counts what was had back, and names what was not.
type haul struct {
	blocks, rounds, notes, gardens, changes int
	broken, blank, pages                    int
	lost                                    []string
	doubted                                 []string // notes that are kept and may not be as they were
}

// doubt names a note that may not be what was written; pages of the log hold some twice.
func (h *haul) doubt(n sensors.Note) {
	say := fmt.Sprintf("perhaps not as it was written (its id is not that of its words): the note of %s, %s %s %q", n.At.Format(time.RFC3339), n.Subject, n.What, n.Detail)
	if !slices.Contains(h.doubted, say) {
		h.doubted = append(h.doubted, say)
	}
}

func (h haul) nothing() bool { return h.blocks+h.rounds+h.notes+h.gardens+h.changes == 0 }

func (h haul) String() string {
	s := fmt.Sprintf("had back %d day blocks, %d rounds of the tail, %d notes, %d garden texts and %d changes", h.blocks, h.rounds, h.notes, h.gardens, h.changes)
	if h.blank > 0 {
		s += fmt.Sprintf("; %d of %d pages hold only noughts", h.blank, h.pages)
	}
	if h.broken > 0 {
		s += fmt.Sprintf("; %d rows were broken", h.broken)
	}
	return s
}

// salvage adds what a damaged file and its log hold to this journal. It is called before anybody else has the journal.
func (j *Journal) salvage(path, walPath string) (h haul, err error) {
	p, err := openPages(path, walPath)
	if err != nil {
		return h, err
	}
	defer p.close()
	names, known := seriesNames{}, newRegister()
	p.each(func(b []byte, first bool) {
		h.pages++
		if len(bytes.Trim(b, "\x00")) == 0 {
			h.blank++
		}
		p.records(b, first, func(r pageRow) { names.learn(r); known.learn(r) })
	})
	names.settle()
	s := salvor{j: j, names: names, haul: &h, known: known}
	var batch []pageRow
	flush := func() {
		if err == nil && len(batch) > 0 {
			err = j.once(func() error { return s.takeAll(batch) })
		}
		batch = batch[:0]
	}
	p.each(func(b []byte, first bool) {
		p.records(b, first, func(r pageRow) { batch = append(batch, r) })
		if len(batch) > 400 {
			flush()
		}
	})
	flush()
	if err != nil {
		return h, err
	}
	if err := j.load(); err != nil {
		return h, err
	}
	if err := j.once(j.finishDays); err != nil {
		return h, err
	}
	if err := j.dropSealedTail(); err != nil {
		return h, err
	}
	if zone := known.place(); zone != nil && j.o.Zone == time.UTC {
		j.o.Zone = zone // nobody said which: the file's own
	}
	if err := j.rebuildDays(context.Background()); err != nil {
		return h, err
	}
	h.lost, err = known.missing(j, names)
	h.lost = append(h.lost, h.doubted...)
	return h, err
}

// blobRow: blocks and tail rows are a rowid and a blob.
func blobRow(r pageRow) ([]byte, bool) {
	if len(r.cols) != 2 || r.cols[0] != nil {
		return nil, false
	}
	b, ok := r.cols[1].([]byte)
	return b, ok
}

type salvor struct {
	j     *Journal
	names seriesNames
	haul  *haul
	known *register
}

func (s *salvor) takeAll(rs []pageRow) error {
	for _, r := range rs {
		if err := s.take(r); err != nil {
			return err
		}
	}
	return nil
}

// take puts one row where it belongs, told by its shape.
func (s *salvor) take(r pageRow) error {
	if b, ok := blobRow(r); ok {
		return s.takeBlob(r.rowid, b)
	}
	switch {
	case shaped(r, "siiisss") && sensors.What(r.cols[5].(string)).Known():
		n := noteOf(values(r.cols))
		if !vouched(n) {
			s.haul.doubt(n)
		}
		return s.count(&s.haul.notes)(s.j.c.exec("insert or ignore into note (id, at, made, about, subject, what, detail) values (?, ?, ?, ?, ?, ?, ?)",
			n.ID, stamp(n.At), stamp(n.Made), n.About.Milliseconds(), n.Subject, string(n.What), n.Detail))
	case shaped(r, "iss") && digest(r.cols[2].(string)) == r.cols[1]:
		return s.count(&s.haul.gardens)(s.j.c.exec("insert or ignore into garden (at, id, text) values (?, ?, ?)", r.cols...))
	case shaped(r, "nsisiisssssi"): // of version 1
		r.cols = append(r.cols, "")
		return s.takeChange(r)
	case shaped(r, "nsisiisssssis"):
		return s.takeChange(r)
	case shaped(r, "nississ") && r.rowid > 0: // a start
		return s.count(nil)(s.j.c.exec("insert or ignore into start ("+startColumns+") values (?, ?, ?, ?, ?, ?, ?)", append([]any{r.rowid}, r.cols[1:]...)...))
	case shaped(r, "si") && r.rowid == 0 && len(r.cols[0].(string)) > 5 && r.cols[0].(string)[:5] == "push/":
		return s.count(nil)(s.j.c.exec("insert into mark (name, value) values (?, ?) on conflict (name) do update set value = max(value, excluded.value)", r.cols...))
	case shaped(r, "isis") && r.rowid == 0 && json.Valid([]byte(r.cols[3].(string))):
		return s.count(nil)(s.j.c.exec("insert or replace into season (season, name, version, data) values (?, ?, ?, ?)", r.cols...))
	}
	return nil
}

// vouched reports whether a note's id, when it looks like one of our making, is that of its words: nothing else in the row would tell
// "150 mL" from "950 mL". Another program's id may look the same, so such a note is named and kept all the same.
func vouched(n sensors.Note) bool {
	return !ours(n.ID) || n.ID == tape.NoteID(n) || n.ID == digest(fmt.Sprint(stamp(n.At)), n.Subject, string(n.What), n.Detail)
}

// ours reports whether an id looks like one made from a note's words.
func ours(id string) bool { return len(id) == 16 && strings.Trim(id, "0123456789abcdef") == "" }

func (s *salvor) count(n *int) func(int64, error) error {
	return func(rows int64, err error) error {
		if n != nil && err == nil {
			*n += int(rows)
		}
		return err
	}
}

func values(cols []any) []driver.Value {
	vs := make([]driver.Value, len(cols))
	for i, c := range cols {
		vs[i] = c
	}
	return vs
}

// shaped reports whether a row's columns are of the kinds named: s text, i whole number, n null.
func shaped(r pageRow, kinds string) bool {
	if len(r.cols) != len(kinds) {
		return false
	}
	for i, c := range r.cols {
		switch c := c.(type) {
		case string:
			if kinds[i] != 's' || !utf8.ValidString(c) {
				return false
			}
		case int64:
			if kinds[i] != 'i' {
				return false
			}
		case nil:
			if kinds[i] != 'n' {
				return false
			}
		default:
			return false
		}
	}
	return true
}

// takeChange keeps a change's place in the order, on which the marks of the ways out depend.
func (s *salvor) takeChange(r pageRow) error {
	if rank, state := r.cols[4].(int64), r.cols[5].(int64); r.rowid <= 0 || rank < int64(alerts.Tonight) || rank > int64(alerts.Digest) ||
		state < int64(alerts.Raised) || state > int64(alerts.Said) {
		s.haul.broken++
		return nil
	}
	return s.count(&s.haul.changes)(s.j.c.exec("insert or ignore into change ("+changeColumns+") values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		append([]any{r.rowid}, r.cols[1:]...)...))
}

func (s *salvor) takeBlob(rowid int64, b []byte) error {
	if day, c, err := columnOf(b); err == nil {
		return s.takeColumn(day, c)
	}
	if day, r, err := bareOf(b); err == nil {
		return s.takeBare(day, r)
	}
	p, err := unpack(rowid, b)
	if err != nil {
		s.haul.broken++
		s.known.broken[rowid] = true
		return nil
	}
	round := sensors.Round{At: unstamp(p.t), Faults: p.faults}
	for _, r := range p.reads {
		k, ok := s.names[r.series]
		if !ok {
			s.haul.broken++
			continue
		}
		rd := sensors.Reading{Probe: k.probe, Raw: r.raw, Step: k.step}
		if r.suspect {
			rd.Quality = sensors.Suspect
		}
		round.Readings = append(round.Readings, rd)
	}
	mine, err := s.j.pack(&round)
	if err != nil {
		return err
	}
	if old, _, err := s.j.tailRow(p.t); err == nil && len(old.reads) == 0 {
		s.haul.rounds++
	}
	s.j.newest = max(s.j.newest, p.t) // a page image of the log may be older than one read before
	_, err = s.j.placeTail(&mine)
	return err
}

// takeColumn writes a probe's day, merged with what is there of it already.
func (s *salvor) takeColumn(day int64, c *column) error {
	first := sensors.Reading{Probe: c.probe, Step: c.step}
	ser, err := s.j.dict.of(s.j.c, &first, c.at[0])
	if err != nil {
		return err
	}
	s.j.recent = [2]*dayData{}
	old, err := s.j.blockColumn(ser.num, day)
	if err != nil {
		return err
	}
	if old != nil && slices.Equal(old.at, c.at) && slices.Equal(old.raw, c.raw) {
		return nil
	}
	if old != nil {
		for i, t := range c.at {
			old.add(t, c.raw[i], c.suspect != nil && c.suspect[i])
		}
		c = old
	} else {
		s.haul.blocks++
	}
	return s.j.writeBlock(key(day, ser.num), s.j.enc.column(day, c))
}

func (s *salvor) takeBare(day int64, r *bare) error {
	d, err := s.j.readDay(day)
	if err != nil {
		return err
	}
	d.merge(&dayData{day: day, bare: *r})
	d.sort()
	return s.j.writeBlock(key(day, 0), s.j.enc.bare(day, &d.bare))
}

// finishDays gives every day that has a block its block of faults, which says that it is sealed.
func (j *Journal) finishDays() error {
	days, err := j.daysOnRecord()
	if err != nil {
		return err
	}
	for _, day := range days {
		if is, err := j.isSealed(day); err != nil {
			return err
		} else if !is {
			if err := j.writeBlock(key(day, 0), j.enc.bare(day, &bare{})); err != nil {
				return err
			}
		}
	}
	return j.load()
}

// holes names the stretches of whole days without anything between the first and the last day there is.
func (j *Journal) holes() []string {
	var holes []string
	days, err := j.daysOnRecord()
	if err != nil {
		return []string{err.Error()}
	}
	if j.tailDay >= 0 {
		days = append(days, j.tailDay)
	}
	for i := 1; i < len(days); i++ {
		if gap := days[i] - days[i-1]; gap == 2 {
			holes = append(holes, "nothing is there of "+dateOfDay(days[i]-1))
		} else if gap > 2 {
			holes = append(holes, fmt.Sprintf("nothing is there of %s to %s", dateOfDay(days[i-1]+1), dateOfDay(days[i]-1)))
		}
	}
	return holes
}
