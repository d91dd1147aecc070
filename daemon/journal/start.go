package journal

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// A Report says what was wrong with a journal when it was opened and what was done about it, in order. The zero Report: nothing.
type Report struct {
	At       time.Time
	Problem  string
	Did      []string // a sentence each
	SetAside []string // damaged files, kept under a new name
	Lost     []string // what could not be had back, as far as it is known
}

// OK reports whether the journal opened as it was left.
func (r Report) OK() bool { return r.Problem == "" }

func (r Report) String() string {
	if r.OK() {
		return "the journal is sound"
	}
	return r.Problem + ": " + strings.Join(append(append([]string{}, r.Did...), r.Lost...), "; ")
}

func (r *Report) did(format string, a ...any) { r.Did = append(r.Did, fmt.Sprintf(format, a...)) }

// Open opens the journal or makes a new one. A damaged one is brought back as far as it goes (its Report says how far), so that
// the daemon always goes on; only a file that is not a journal, one of a newer version or one in use by another process is an
// error. On a file system that can only be read the journal opens for reading and says so.
func Open(path string, o Options) (*Journal, error) {
	o.defaults(path)
	j := &Journal{path: path, o: o, turn: make(chan struct{}, 1)}
	if o.ReadOnly {
		return j, wrapOpen(path, j.openReadOnly())
	}
	err := j.openWriting()
	if errors.Is(meaningOr(err), ErrReadOnly) {
		j.release()
		j.report = Report{At: o.Now().UTC(), Problem: "the file system can only be read", Did: []string{"opened for reading"}}
		j.o.ReadOnly = true
		if e := j.openReadOnly(); e == nil {
			return j, nil
		}
	}
	if err != nil {
		j.release()
		return nil, wrapOpen(path, err)
	}
	return j, nil
}

func wrapOpen(path string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("opening the journal %s: %w", path, classify(err))
}

func meaningOr(err error) error {
	if err == nil {
		return nil
	}
	if m := meaning(err); m != nil {
		return m
	}
	return err
}

func (j *Journal) release() {
	if j.c != nil {
		_ = j.c.close()
		j.c = nil
	}
	j.lock.release()
	j.lock = nil
}

func (j *Journal) openWriting() (err error) {
	if j.lock, err = lockBeside(j.path); err != nil {
		if !isFull(err) || !j.dropBallast() {
			return err
		}
		if j.lock, err = lockBeside(j.path); err != nil {
			return err
		}
	}
	j.had = exists(j.hadPath())
	problem := j.missing()
	if problem == nil {
		err = j.openEngine()
		if isFull(err) && j.dropBallast() {
			err = j.openEngine()
		}
		if err == nil {
			j.layBallast()
			return nil
		}
		if !damage(err) || !j.had {
			return err
		}
		problem = err
	}
	if err := j.heal(problem); err != nil {
		return err
	}
	j.layBallast()
	return nil
}

// missing notices a file that is gone or holds less than a page although data existed: the engine would take it for a new one, and throw
// its log away.
func (j *Journal) missing() error {
	fi, err := os.Stat(j.path)
	switch {
	case err == nil && fi.Size() >= pageSize, err != nil && !errors.Is(err, os.ErrNotExist):
		return nil
	case !j.had:
		return nil
	case err == nil && fi.Size() > 0:
		return errors.New("the file is cut short")
	case err == nil:
		return errors.New("the file is empty")
	}
	return errors.New("the file is gone")
}

const pageSize = 4096

// The side file says that data existed. It is written once, after the first round or note.
func (j *Journal) hadPath() string { return j.path + ".had" }

func (j *Journal) sayHad() {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.had {
		return
	}
	const text = "This journal has held data: if the file beside this one is empty or gone, that is damage and not a fresh start.\n"
	if err := writeSynced(j.hadPath(), []byte(text)); err != nil {
		j.o.Log.Warn("journal: writing down that data existed", "err", err)
		return
	}
	j.had = true
}

// openEngine connects, looks at the header, checks, migrates and loads.
func (j *Journal) openEngine() (err error) {
	name, err := dsn(j.path, pragmas, logModes...)
	if err != nil {
		return err
	}
	if err := createPrivate(j.path); err != nil {
		return err
	}
	if j.c, err = connect(name); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = j.c.close()
			j.c = nil
		}
	}()
	if err := j.c.script(logLimit); err != nil {
		return err
	}
	if err := j.knownFile(); err != nil {
		return err
	}
	j.keepPrivate()
	said, err := quickCheck(j.c)
	if err != nil {
		return err
	}
	if len(said) > 0 {
		return fmt.Errorf("%w: %s", ErrDamaged, said[0])
	}
	if err := migrate(j.c, j.backupBefore); err != nil {
		return err
	}
	if err := j.c.script("pragma wal_checkpoint(TRUNCATE)"); err != nil && !isFull(err) {
		return err // a new file must not stay empty beside its log
	}
	if err := j.dropSealedTail(); err != nil {
		return err
	}
	return j.load()
}

// knownFile refuses a file of another program.
func (j *Journal) knownFile() error {
	id, _, err := j.c.number("pragma application_id")
	if err != nil {
		return err
	}
	if id == applicationID {
		return nil
	}
	n, _, err := j.c.number("select count(*) from sqlite_schema")
	if err != nil {
		return err
	}
	if id != 0 || n > 0 {
		return errors.New("it is not a journal of this program; nothing was changed")
	}
	return nil
}

// dropSealedTail removes tail rows of days that are sealed, after merging them: a log that was damaged may have brought them back.
func (j *Journal) dropSealedTail() error {
	if err := j.load(); err != nil {
		return err
	}
	if j.tailDay < 0 || j.tailDay > j.sealed {
		return nil
	}
	return j.once(func() error {
		ds, err := j.tailDays(j.tailDay*dayMS, (j.sealed+1)*dayMS)
		if err != nil {
			return err
		}
		for _, d := range ds {
			if err := j.sealAgain(d); err != nil {
				return err
			}
		}
		return j.load()
	})
}

// sealAgain merges what the tail has of a day into its blocks, if it is sealed.
func (j *Journal) sealAgain(d *dayData) error {
	if sealed, err := j.isSealed(d.day); err != nil || !sealed {
		return err
	}
	whole, err := j.readDay(d.day)
	if err != nil {
		return err
	}
	whole.merge(d)
	if err := j.writeDay(whole); err != nil {
		return err
	}
	_, err = j.c.exec("delete from tail where t >= ? and t < ?", d.day*dayMS, (d.day+1)*dayMS)
	return err
}

// damage tells a spoilt file from trouble of another kind.
func damage(err error) bool {
	if errors.Is(err, ErrDamaged) {
		return true
	}
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.Code() {
	case sqlite3.SQLITE_IOERR_READ, sqlite3.SQLITE_IOERR_SHORT_READ, sqlite3.SQLITE_IOERR_DATA, sqlite3.SQLITE_IOERR_CORRUPTFS,
		sqlite3.SQLITE_IOERR_IN_PAGE: // others speak of the card, not of the file: setting the file aside would not help
		return true
	case sqlite3.SQLITE_ERROR: // a table is gone from the schema
		return strings.Contains(e.Error(), "no such table")
	}
	code := e.Code() & 0xff
	return code == sqlite3.SQLITE_CORRUPT || code == sqlite3.SQLITE_NOTADB
}

// openReadOnly opens a backup or a copy. A file with a write-ahead log beside it is copied first, so that nothing beside it is
// touched.
func (j *Journal) openReadOnly() error {
	path := j.path
	if fi, err := os.Stat(path); err != nil {
		return err
	} else if fi.Size() == 0 {
		return fmt.Errorf("%w: the file is empty", ErrDamaged)
	}
	if holder, held := heldBy(path); held {
		return fmt.Errorf("%w by process %s: ask it, or read a backup", ErrInUse, holder)
	}
	if fi, err := os.Stat(path + "-wal"); err == nil && fi.Size() > 0 {
		temp, err := os.MkdirTemp("", "lathwatch-read-")
		if err != nil {
			return err
		}
		j.temp, path = temp, filepath.Join(temp, "copy.journal")
		for _, s := range []string{"", "-wal"} {
			if err := copyFile(path+s, j.path+s); err != nil {
				return err
			}
		}
	}
	if err := j.connectReading(path); err != nil {
		return err
	}
	v, _, err := j.c.number("pragma user_version")
	if err != nil {
		return err
	}
	if id, _, err := j.c.number("pragma application_id"); err != nil || id != applicationID {
		return errors.Join(err, errors.New("it is not a journal of this program"))
	}
	if v < int64(len(migrations)) && j.temp == "" { // an older one is brought up to date in a copy
		return j.readOldCopy()
	}
	if v != int64(len(migrations)) {
		if err := migrate(j.c, func(int64) error { return nil }); err != nil {
			return err
		}
	}
	return j.load()
}

func (j *Journal) connectReading(path string) error {
	more := []string{"mode", "ro", "immutable", "1"}
	ps := []string{"temp_store(MEMORY)", "trusted_schema(0)"}
	if j.temp != "" {
		more, ps = logModes, pragmas
	}
	name, err := dsn(path, ps, more...)
	if err != nil {
		return err
	}
	j.c, err = connect(name)
	return err
}

func (j *Journal) readOldCopy() error {
	_ = j.c.close()
	temp, err := os.MkdirTemp("", "lathwatch-read-")
	if err != nil {
		return err
	}
	j.temp = temp
	path := filepath.Join(temp, "copy.journal")
	if err := copyFile(path, j.path); err != nil {
		return err
	}
	if err := j.connectReading(path); err != nil {
		return err
	}
	if err := migrate(j.c, func(int64) error { return nil }); err != nil {
		return err
	}
	return j.load()
}

func copyFile(dst, src string) error {
	from, err := os.Open(src)
	if err != nil {
		return err
	}
	defer from.Close()
	to, err := os.OpenFile(dst, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, private)
	if err != nil {
		return err
	}
	if _, err = io.Copy(to, from); err == nil {
		err = to.Sync()
	}
	return errors.Join(err, to.Close())
}

func writeSynced(path string, b []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, private)
	if err != nil {
		return err
	}
	if _, err = f.Write(b); err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close(), syncDir(dirOf(path)))
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func dirOf(path string) string { return filepath.Dir(path) }

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
