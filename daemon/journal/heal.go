package journal

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"
)

// heal brings a damaged journal back as far as it goes. First the write-ahead log is moved aside, for a log written by a card that
// lies can spoil a sound file. When that is not enough the file is set aside under a new name, and a new one is made from the newest
// sound backup, if there is one, and from every block and row of the damaged file whose checksum is good.
func (j *Journal) heal(problem error) error {
	j.report = Report{At: j.o.Now().UTC(), Problem: problem.Error()}
	j.o.Log.Error("journal: damaged", "path", j.path, "err", problem)
	suffix := ".damaged-" + j.o.Now().UTC().Format(stampLayout)
	for exists(j.path + suffix) {
		suffix += "x"
	}
	if fi, err := os.Stat(j.path); err == nil && fi.Size() >= pageSize {
		if done, err := j.healLog(suffix); done || err != nil {
			return err
		}
	}
	if err := j.setAside("", suffix); err != nil {
		return err
	}
	if err := j.setAside("-wal", suffix); err != nil {
		return err
	}
	if err := j.fromBackup(); err != nil {
		return err
	}
	if err := j.salvageAside(suffix); err != nil {
		return err
	}
	j.report.Lost = append(j.report.Lost, j.holes()...)
	j.sayNewest()
	return syncDir(dirOf(j.path))
}

// healLog tries the file without its log; done when it is sound so.
func (j *Journal) healLog(suffix string) (done bool, err error) {
	if fi, err := os.Stat(j.path + "-wal"); err != nil || fi.Size() == 0 {
		return false, nil
	}
	if err := j.setAside("-wal", suffix); err != nil {
		return false, err
	}
	if err := j.openEngine(); err != nil {
		if !damage(err) {
			return false, err
		}
		return false, nil
	}
	j.report.did("opened without its write-ahead log")
	// The log's pages may still hold the newest rounds; only what has a good checksum is taken.
	h, err := j.salvage("", j.path+suffix+"-wal")
	if err != nil {
		return false, fmt.Errorf("reading the log that was set aside: %w", err)
	}
	j.report.did("%s from the log", h)
	j.report.Lost = append(j.report.Lost, h.lost...)
	j.sayNewest()
	return true, nil
}

func (j *Journal) sayNewest() {
	if j.newest == 0 {
		j.report.Lost = append(j.report.Lost, "no round is there")
		return
	}
	j.report.Lost = append(j.report.Lost, "the newest round is of "+unstamp(j.newest).Format(time.RFC3339)+"; later ones are lost")
}

// setAside renames the file or its log; the log goes with its file's new name so that it is found beside it.
func (j *Journal) setAside(kind, suffix string) error {
	from, to := j.path+kind, j.path+suffix+kind
	err := os.Rename(from, to)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("setting the damaged file aside: %w", err)
	}
	j.report.SetAside = append(j.report.SetAside, to)
	return nil
}

// fromBackup opens the newest backup that is sound as the new journal, or an empty one when there is none.
func (j *Journal) fromBackup() error {
	names, err := backupNames(j.o.Backups, j.path)
	if err != nil {
		j.report.did("looked for backups in vain: %v", err)
	}
	for i := len(names) - 1; i >= 0; i-- {
		if err := copyFile(j.path, names[i]); err == nil {
			if err = j.openEngine(); err == nil {
				j.report.did("went back to the backup %s", names[i])
				return nil
			}
			j.o.Log.Warn("journal: a backup cannot be used", "path", names[i], "err", err)
		}
		for _, kind := range []string{"", "-wal"} {
			_ = os.Remove(j.path + kind)
		}
	}
	if err := j.openEngine(); err != nil {
		return fmt.Errorf("beginning a new journal: %w", err)
	}
	j.report.did("began a new file; there was no backup")
	return nil
}

func (j *Journal) salvageAside(suffix string) error {
	aside := j.path + suffix
	if fi, err := os.Stat(aside); (err != nil || fi.Size() == 0) && !exists(aside+"-wal") {
		return nil
	}
	h, err := j.salvage(aside, aside+"-wal")
	if err != nil {
		return fmt.Errorf("salvaging the damaged file: %w", err)
	}
	j.report.did("%s from %s", h, strings.TrimPrefix(aside, dirOf(j.path)+"/"))
	j.report.Lost = append(j.report.Lost, h.lost...)
	return nil
}
