package drivers

import (
	"io"
	"os"
	"path/filepath"
	"strings"
)

// path joins a path below the root; "" and "/" are this board.
func (env Env) path(parts ...string) string {
	root := env.Root
	if root == "" {
		root = "/"
	}
	return filepath.Join(append([]string{root}, parts...)...)
}

// text reads a kernel attribute: at most 4 KiB (some special files are endless), white space at the ends dropped.
func (env Env) text(path string) (string, error) {
	read := env.read
	if read == nil {
		read = readBounded
	}
	b, err := read(path, 4096)
	return strings.TrimSpace(string(b)), err
}

func readBounded(path string, limit int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, limit))
}
