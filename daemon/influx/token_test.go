package influx

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestATokenThatOthersCanReadIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(path, []byte("leaf-mould\nsecond line\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := Settings{TokenFile: path}
	if got, err := s.token(); got != "leaf-mould" || err != nil {
		t.Errorf("%q, %v", got, err)
	}
	for _, mode := range []os.FileMode{0o644, 0o640, 0o604, 0o622} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		if got, err := s.token(); err == nil || !strings.Contains(err.Error(), "others can read") || got != "" {
			t.Errorf("mode %v: %q, %v", mode, got, err)
		}
	}
}
