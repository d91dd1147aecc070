package journal

import (
	"io/fs"
	"os"
)

// private is the mode of the journal, its log and its copies: they hold digests of sessions and addresses and what a keeper wrote
// down, which are nobody else's business. The group may read, so that a backup program need not be root.
const private fs.FileMode = 0o640

// createPrivate makes an empty file where there is none, since the engine would make one that everybody may read. The engine gives
// the log the mode of its file.
func createPrivate(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, private)
	if err != nil {
		return err
	}
	return f.Close()
}

// keepPrivate takes away what an older program or a careless copy let others do.
func (j *Journal) keepPrivate() {
	for _, path := range []string{j.path, j.path + "-wal"} {
		fi, err := os.Stat(path)
		if err != nil || fi.Mode()&0o007 == 0 {
			continue
		}
		if err := os.Chmod(path, fi.Mode().Perm()&private); err != nil {
			j.o.Log.Warn("journal: others may read it", "path", path, "err", err)
		}
	}
}
