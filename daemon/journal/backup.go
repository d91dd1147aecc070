package journal

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"modernc.org/sqlite"
)

const stampLayout = "20060102T150405Z"

func backupsBeside(path string) string { return filepath.Join(dirOf(path), "backups") }

// Backup copies the journal through the engine's online backup, some hundred pages a turn, so that rounds are kept meanwhile and are
// in the copy. The copy is checked by opening it, then gets its name; the keep newest copies stay (0: as the journal's options
// have it). It gives the copy's path.
func (j *Journal) Backup(ctx context.Context, folder string, keep int) (string, error) {
	if folder == "" {
		folder = j.o.Backups
	}
	if keep <= 0 {
		keep = j.o.Keep
	}
	path, err := j.backup(ctx, folder)
	if err != nil {
		return "", fmt.Errorf("backing up the journal to %s: %w", folder, classify(err))
	}
	names, err := backupNames(folder, j.path)
	if err != nil {
		return path, err
	}
	for len(names) > keep {
		if err := os.Remove(names[0]); err != nil {
			return path, fmt.Errorf("removing an old backup: %w", err)
		}
		names = names[1:]
	}
	return path, nil
}

func (j *Journal) backup(ctx context.Context, folder string) (string, error) {
	if err := os.MkdirAll(folder, 0o750); err != nil {
		return "", err
	}
	path := filepath.Join(folder, stem(j.path)+"-"+j.o.Now().UTC().Format(stampLayout)+".journal")
	part := path + ".part"
	defer os.Remove(part)
	_ = os.Remove(part)
	newest := j.newestNow(ctx)
	if err := createPrivate(part); err != nil {
		return "", err
	}
	if err := j.copyPages(ctx, part); err != nil {
		return "", err
	}
	if err := settle(part); err != nil {
		return "", err
	}
	copied, err := Open(part, Options{ReadOnly: true, Log: j.o.Log})
	if err != nil {
		return "", fmt.Errorf("the copy cannot be opened: %w", err)
	}
	said, err := quickCheck(copied.c)
	got := unstamp(copied.newest)
	_ = copied.Close()
	if err != nil || len(said) > 0 {
		return "", errors.Join(err, fmt.Errorf("the copy is not sound: %v", said))
	}
	if got.Before(newest) {
		return "", fmt.Errorf("the copy ends at %s, before %s", got.Format(time.RFC3339), newest.Format(time.RFC3339))
	}
	if err := os.Rename(part, path); err != nil {
		return "", err
	}
	return path, syncDir(folder)
}

func (j *Journal) newestNow(ctx context.Context) time.Time {
	t, err := j.Newest(ctx)
	if err != nil {
		return time.Time{}
	}
	return t
}

// copyPages runs the online backup in turns.
func (j *Journal) copyPages(ctx context.Context, to string) (err error) {
	name, err := dsn(to, nil)
	if err != nil {
		return err
	}
	var b *sqlite.Backup
	err = j.with(ctx, "starting", func() (err error) {
		b, err = j.c.c.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		}).NewBackup(name)
		return err
	})
	if err != nil {
		return err
	}
	for more := true; more && err == nil; {
		err = j.with(ctx, "copying", func() (err error) {
			more, err = b.Step(256)
			return err
		})
	}
	if e := j.take(context.Background()); e == nil { // Close ends the backup with the connection
		defer j.give()
		return errors.Join(err, b.Finish())
	}
	return err
}

// settle makes a copy a plain file without a log, so that other tools can read it, and puts it on the card.
func settle(path string) error {
	name, err := dsn(path, []string{"journal_mode(DELETE)"})
	if err != nil {
		return err
	}
	c, err := connect(name)
	if err != nil {
		return err
	}
	_, _, err = c.number("select count(*) from sqlite_schema")
	if err = errors.Join(err, c.close()); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func stem(path string) string { return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)) }

// backupNames lists the backups of a journal in a folder, oldest first.
func backupNames(folder, path string) ([]string, error) {
	es, err := os.ReadDir(folder)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	var names []string
	for _, e := range es {
		rest, ok := strings.CutPrefix(e.Name(), stem(path)+"-")
		if when, isOurs := strings.CutSuffix(rest, ".journal"); ok && isOurs {
			if _, err := time.Parse(stampLayout, when); err == nil {
				names = append(names, filepath.Join(folder, e.Name()))
			}
		}
	}
	slices.Sort(names)
	return names, err
}

// Backups lists the backups in a folder ("" is the journal's own), oldest first.
func (j *Journal) Backups(folder string) ([]string, error) {
	if folder == "" {
		folder = j.o.Backups
	}
	return backupNames(folder, j.path)
}

// backupBefore keeps the file as it is before a migration changes it.
func (j *Journal) backupBefore(version int64) error {
	if err := j.c.script("pragma wal_checkpoint(TRUNCATE)"); err != nil {
		return err
	}
	return copyFile(fmt.Sprintf("%s.version-%d", j.path, version), j.path)
}

func sameFileSystem(a, b string) bool {
	for b != "/" && b != "." && !exists(b) {
		b = filepath.Dir(b)
	}
	var sa, sb syscall.Stat_t
	if syscall.Stat(dirOf(a), &sa) != nil || syscall.Stat(b, &sb) != nil {
		return false
	}
	return sa.Dev == sb.Dev
}
