package journal

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

func TestNobodyElseMayReadTheJournalItsLogOrItsCopies(t *testing.T) {
	old := syscall.Umask(0) // the most a careless system allows
	defer syscall.Umask(old)
	folder := dir(t)
	path := filepath.Join(folder, "j.journal")
	j := open(t, path, Options{Ballast: 4096})
	keepAll(t, j, rounds(t0, 600e9, 300, 4))
	if _, err := j.Backup(bg, "", 0); err != nil {
		t.Fatal(err)
	}
	if !exists(path + "-wal") {
		t.Fatal("no log: the test looks at nothing")
	}
	closedToOthers(t, folder, 6) // journal, log, lock, had, ballast, backup
	if err := j.backupBefore(1); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Salvage(path, filepath.Join(folder, "saved.journal")); err != nil {
		t.Fatal(err)
	}
	closedToOthers(t, folder, 7)
	if err := errors.Join(os.Chmod(path, 0o644), os.Chmod(folder, 0o755)); err != nil {
		t.Fatal(err)
	}
	open(t, path, Options{Ballast: -1})
	closedToOthers(t, folder, 7) // of a file that an older program made as well
}

func closedToOthers(t *testing.T, folder string, least int) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err != nil || path == folder {
			return err
		}
		fi, err := d.Info()
		if err != nil {
			return err
		}
		if n++; fi.Mode().Perm()&0o007 != 0 || fi.Mode().Perm()&0o020 != 0 {
			t.Errorf("%s has mode %v", d.Name(), fi.Mode())
		}
		return nil
	})
	if err != nil || n < least {
		t.Fatalf("%d files, %v", n, err)
	}
}
