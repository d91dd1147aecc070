package daemon

import (
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"
)

// TestTheCommandSocketIsForItsGroupAlone: 0660 from the first moment, whatever the process's mask was; and no request is read beyond its bound.
func TestTheCommandSocketIsForItsGroupAlone(t *testing.T) {
	d, end := askable(t, time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC))
	defer end()
	if _, err := d.socket(); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(SocketPath(d.cfg.StateDir))
	if err != nil || info.Mode().Perm() != 0o660 || info.Mode().Type() != os.ModeSocket {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	for _, path := range []string{"/note", "/sitter", "/calendar"} {
		read := &endless{}
		w := httptest.NewRecorder()
		d.commands().ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), "POST", "http://lathwatch"+path, read))
		if w.Code == 200 || read.n > 1<<20 || !strings.Contains(w.Body.String(), "error") {
			t.Errorf("%s: %d after %d bytes", path, w.Code, read.n)
		}
	}
}

// endless gives a JSON string that never ends.
type endless struct{ n int }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'a'
	}
	if e.n == 0 {
		copy(p, `{"Detail":"`)
	}
	e.n += len(p)
	return len(p), nil
}
