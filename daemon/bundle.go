package daemon

import (
	"bytes"
	"context"
	"net/http"

	"lathwatch/daemon/logbook"
	"lathwatch/daemon/vitals"
)

// askParts gives what only a running daemon can add to a support bundle, with the secrets it knows blanked.
func (d *Daemon) askParts(r *http.Request) (any, error) {
	report := d.fares(r.Context())
	parts, err := report.Parts()
	if err != nil {
		return nil, err
	}
	var figures bytes.Buffer
	if err := d.faring.metrics.Write(r.Context(), &figures); err != nil {
		return nil, err
	}
	parts = append(parts, vitals.Part{Name: "metrics.txt", Say: "all figures, as OpenMetrics", Text: figures.String()})
	if d.cfg.Lines != nil {
		parts = append(parts, vitals.LogPart(d.cfg.Lines()))
	}
	veil := logbook.NewVeil(vitals.Secrets(d.cfg.GardenText)) // anew: a secret's file may have changed since the start
	for i := range parts {
		parts[i].Text = veil.Over(parts[i].Text)
	}
	return parts, nil
}

// Parts asks the daemon for its parts of a support bundle.
func (c *Client) Parts(ctx context.Context) (parts []vitals.Part, err error) {
	return parts, c.ask(ctx, http.MethodGet, "/parts", nil, &parts)
}
