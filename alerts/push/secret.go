package push

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

const maxSecret = 4096

// Secret reads a password or token from a file that only its owner can read. Line breaks at the end are dropped. An empty path
// gives an empty secret.
func Secret(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	b, err := private(path)
	if err != nil {
		return "", fmt.Errorf("reading a secret: %w", err)
	}
	if len(b) > maxSecret {
		return "", fmt.Errorf("reading a secret: %s is over %d bytes, which no password is", path, maxSecret)
	}
	s := strings.TrimRight(string(b), "\r\n")
	if s == "" {
		return "", errors.New("reading a secret: " + path + " is empty")
	}
	return s, nil
}

// private reads a small file that only its owner can read.
func private(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat() // of the file that was opened, not of what may lie at its path a moment later
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New(path + " is not a plain file")
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("others can read %s (mode %04o): run chmod 600 on it, as the user the daemon runs as", path, info.Mode().Perm())
	}
	return io.ReadAll(io.LimitReader(f, 1<<20))
}
