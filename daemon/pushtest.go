package daemon

import (
	"context"
	"net/http"
	"net/url"
	"time"
)

// A WayTest is what became of a test message by one way out.
type WayTest struct {
	Way   string `json:"way"`
	Error string `json:"error,omitempty"`
}

// PushTest asks the daemon to send a test message by one way out, or by all when way is empty.
func (c *Client) PushTest(ctx context.Context, way string) (tests []WayTest, err error) {
	return tests, c.ask(ctx, http.MethodPost, "/push-test?way="+url.QueryEscape(way), nil, &tests)
}

func (d *Daemon) askPushTest(r *http.Request) (any, error) {
	tests := []WayTest{}
	for _, run := range d.runners {
		if want := r.URL.Query().Get("way"); want != "" && want != run.Name() {
			continue
		}
		ctx, cancel := context.WithTimeout(r.Context(), time.Minute)
		t := WayTest{Way: run.Name()}
		if err := run.Test(ctx); err != nil {
			t.Error = err.Error()
		}
		cancel()
		tests = append(tests, t)
	}
	return tests, nil
}
