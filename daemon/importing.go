package daemon

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"

	"lathwatch/daemon/exchange"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
)

// importBytes bounds one batch over the socket: a year of twenty probes by the hour is about a third of it.
const importBytes = 64 << 20

// Import hands the daemon readings of the past, a batch at a time.
func (c *Client) Import(ctx context.Context, rows []sensors.LateReading) (sum journal.LateResult, err error) {
	const batch = 50_000
	for len(rows) > 0 {
		n := min(batch, len(rows))
		body, err := json.Marshal(rows[:n])
		if err != nil {
			return sum, err
		}
		var res journal.LateResult
		if err := c.ask(ctx, http.MethodPost, "/import", body, &res); err != nil {
			return sum, err
		}
		sum.Fresh += res.Fresh
		sum.Known += res.Known
		rows = rows[n:]
	}
	return sum, nil
}

func (d *Daemon) askImport(r *http.Request) (any, error) {
	var rows []sensors.LateReading
	if err := json.NewDecoder(io.LimitReader(r.Body, importBytes)).Decode(&rows); err != nil {
		return nil, fmt.Errorf("reading what to import: %w", err)
	}
	for _, row := range rows {
		if err := exchange.Sound(row); err != nil {
			return nil, Wrong{err}
		}
	}
	var res journal.LateResult
	var kept error
	err := d.do(r.Context(), func() {
		if res, kept = exchange.Import(r.Context(), d.journal, "", d.cfg.Now(), rows); kept == nil && res.Fresh > 0 {
			d.stale = true // walked anew with the next round
		}
	})
	return res, cmp.Or(err, kept)
}
