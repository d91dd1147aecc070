package journal

import (
	"errors"
	"os"
	"syscall"
)

// The ballast is a file of noughts beside the journal. A card that fills up costs it first, so that the daemon can still write
// down that the card is full, and what it sees until somebody makes room.

func (j *Journal) ballastPath() string { return j.path + ".ballast" }

func isFull(err error) bool { return err != nil && errors.Is(meaning(err), ErrFull) }

func (j *Journal) dropBallast() bool {
	if j.o.Ballast < 0 || os.Remove(j.ballastPath()) != nil {
		return false
	}
	j.o.Log.Warn("journal: the card is full, the ballast is given up", "bytes", j.o.Ballast)
	return true
}

// layBallast makes the file again when there is room: ten times its size must stay free.
func (j *Journal) layBallast() {
	if j.o.Ballast <= 0 || j.o.ReadOnly {
		return
	}
	if fi, err := os.Stat(j.ballastPath()); err == nil && fi.Size() == j.o.Ballast {
		return
	}
	if free, _, err := freeSpace(j.path); err != nil || free < 10*j.o.Ballast {
		return
	}
	f, err := os.OpenFile(j.ballastPath(), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, private)
	if err != nil {
		return
	}
	defer f.Close()
	noughts := make([]byte, 64<<10)
	for left := j.o.Ballast; left > 0; left -= int64(len(noughts)) {
		if _, err := f.Write(noughts[:min(left, int64(len(noughts)))]); err != nil {
			_ = os.Remove(j.ballastPath())
			return
		}
	}
	_ = f.Sync()
}

// freeSpace gives the bytes a plain user may still write where path lies, and the whole size of that file system.
func freeSpace(path string) (free, size int64, err error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dirOf(path), &s); err != nil {
		return 0, 0, err
	}
	return int64(s.Bavail) * int64(s.Bsize), int64(s.Blocks) * int64(s.Bsize), nil
}
