package daemon

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"lathwatch/daemon/config"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// Ledger makes the plants' books from a journal: its newest garden and every note.
func Ledger(ctx context.Context, j *journal.Journal) (*ledger.Book, *garden.Garden, error) {
	g, err := newestGarden(ctx, j)
	if err != nil {
		return nil, nil, err
	}
	south, _ := g.Site.South()
	notes, err := noteBook{j}.Notes(ctx, time.Time{}, time.Unix(1<<40, 0))
	if err != nil {
		return nil, nil, err
	}
	return ledger.Keep(ledger.Source{Garden: g, Cal: garden.Calendar{Zone: g.Site.Zone, South: south}, Notes: notes}), g, nil
}

// newestGarden is the garden last written to a journal.
func newestGarden(ctx context.Context, j *journal.Journal) (*garden.Garden, error) {
	text, _, err := j.GardenAt(ctx, time.Unix(1<<40, 0))
	if err != nil {
		return nil, err
	}
	return config.Parse("garden.toml", []byte(text))
}

// importMost bounds the notes of one ledger file.
const importMost = 20_000

// AddNotes keeps notes of years gone by and walks the season anew once, however many they are.
func (d *Daemon) AddNotes(ctx context.Context, notes []sensors.Note) error {
	if len(notes) > importMost {
		return fmt.Errorf("%d notes at once: at most %d", len(notes), importMost)
	}
	for i := range notes {
		n, err := d.finish(notes[i])
		if err != nil {
			return err
		}
		notes[i] = n
	}
	var kept error
	err := d.do(ctx, func() {
		for _, n := range notes {
			if kept = d.journal.AddNote(ctx, n, nil); kept != nil {
				return
			}
		}
		d.refold(ctx)
	})
	return cmp.Or(err, kept)
}

func (d *Daemon) askNotes(r *http.Request) (any, error) {
	var notes []sensors.Note
	if err := json.NewDecoder(io.LimitReader(r.Body, 16<<20)).Decode(&notes); err != nil {
		return nil, fmt.Errorf("reading the notes: %w", err)
	}
	var says []string
	for _, n := range notes {
		if say := ledger.Objection(n); say != "" {
			says = append(says, n.Subject+": "+say)
		}
	}
	return reply{Say: strings.Join(says, "\n")}, d.AddNotes(r.Context(), notes)
}

// Notes hands the daemon many notes at once.
func (c *Client) Notes(ctx context.Context, notes []sensors.Note) error {
	body, err := json.Marshal(notes)
	if err != nil {
		return err
	}
	return c.ask(ctx, http.MethodPost, "/notes", body, &reply{})
}
