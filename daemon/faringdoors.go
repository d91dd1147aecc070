package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"strings"

	"lathwatch/daemon/vitals"
)

// healthz answers in short whether the daemon does its work: 200 when it does, else 503, with a line for everything needed.
func (d *Daemon) healthz() http.Handler {
	p := &pulse{inMemory: d.memory, journal: d.journal}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		lines, well := p.take()
		status := http.StatusOK
		if !well {
			status = http.StatusServiceUnavailable
		}
		h := w.Header()
		h.Set("Cache-Control", "no-store")
		if strings.Contains(r.Header.Get("Accept"), "application/json") || r.URL.Query().Get("as") == "json" {
			h.Set("Content-Type", "application/json")
			w.WriteHeader(status)
			json.NewEncoder(w).Encode(struct {
				Well  bool          `json:"well"`
				Lines []vitals.Line `json:"lines"`
			}{well, lines})
			return
		}
		h.Set("Content-Type", "text/plain; charset=utf-8")
		w.WriteHeader(status)
		w.Write([]byte(vitals.Shortly(lines)))
	})
}

// metricsPage answers /metrics.
func (d *Daemon) metricsPage() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var b bytes.Buffer
		if err := d.faring.metrics.Write(r.Context(), &b); err != nil {
			d.cfg.Log.Error("the metrics could not be made", "err", err)
			http.Error(w, "The metrics could not be made. The daemon's log says why.", http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", vitals.MetricsType)
		w.Header().Set("Cache-Control", "no-store")
		w.Write(b.Bytes())
	})
}

func (d *Daemon) askFares(r *http.Request) (any, error) { return d.fares(r.Context()), nil }

// Fares asks the daemon how it fares.
func (c *Client) Fares(ctx context.Context) (r vitals.Report, err error) {
	return r, c.ask(ctx, http.MethodGet, "/fares", nil, &r)
}
