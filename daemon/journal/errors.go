package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What a caller may want to tell apart.
var (
	ErrFull     = errors.New("the card is full")
	ErrReadOnly = errors.New("the journal can only be read")
	ErrDamaged  = errors.New("the journal is damaged")
	ErrInUse    = errors.New("the journal is in use")
	ErrClosed   = errors.New("the journal is closed")
)

// classify adds to an engine's error what it means for the daemon.
func classify(err error) error {
	if err == nil {
		return nil
	}
	mean := meaning(err)
	if mean == nil || errors.Is(err, mean) {
		return err
	}
	return fmt.Errorf("%w: %w", mean, err)
}

func meaning(err error) error {
	var e *sqlite.Error
	if errors.As(err, &e) {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_FULL:
			return ErrFull
		case sqlite3.SQLITE_READONLY:
			return ErrReadOnly
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return ErrDamaged
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			return ErrInUse
		}
	}
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return ErrFull
	case errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return ErrReadOnly
	}
	return nil
}
