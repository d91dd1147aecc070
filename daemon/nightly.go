package daemon

import (
	"context"
	"fmt"
	"time"
)

// nightlyAt is when the journal is copied: after the small hours' frost, before anybody looks.
const nightlyAt = 3*time.Hour + 30*time.Minute

// settled is how long after a start the seasons that are over are looked at.
const settled = 10 * time.Minute

// nightly does the journal's housekeeping once a night (log emptied, ballast laid, a checked copy; on Sundays every checksum read), keeps what seasons that are over come to,
// and tells when that fails. A copy on the journal's own card is better than
// none and not much: the weekly digest says so.
func (d *Daemon) nightly(ctx context.Context) error {
	d.lookAtCard(ctx)
	first := time.NewTimer(settled) // a start has its hands full
	defer first.Stop()
	for {
		now := d.cfg.Now()
		timer := time.NewTimer(untilNight(now.In(d.garden.Site.Zone)))
		select {
		case <-ctx.Done():
			timer.Stop()
			return ctx.Err()
		case <-first.C:
			timer.Stop()
			d.keepSeasons(ctx)
		case <-timer.C:
			d.backup(ctx)
			d.lookAtCard(ctx)
			d.keepSeasons(ctx)
		}
	}
}

// untilNight is how long it is to the next nightly copy by the civil clock.
func untilNight(now time.Time) time.Duration {
	y, m, day := now.Date()
	at := time.Date(y, m, day, 0, 0, 0, 0, now.Location()).Add(nightlyAt)
	if !at.After(now) {
		at = time.Date(y, m, day+1, 0, 0, 0, 0, now.Location()).Add(nightlyAt)
	}
	return at.Sub(now)
}

func (d *Daemon) backup(ctx context.Context) {
	weekly := d.cfg.Now().In(d.garden.Site.Zone).Weekday() == time.Sunday
	err := d.journal.Night(ctx, weekly)
	if err != nil && ctx.Err() == nil {
		d.cfg.Log.Error("nightly backup", "err", err)
		d.setTrouble("backup", fmt.Sprintf("Last night's backup failed (%v).", err))
		return
	}
	d.setTrouble("backup", "")
	d.cfg.Log.Info("nightly backup")
}

// lookAtCard warns while there is still room: under a tenth of the card free is trouble, backups on the journal's own card a line
// in the first digest of a month.
func (d *Daemon) lookAtCard(ctx context.Context) {
	h, err := d.journal.Health(ctx)
	if err != nil {
		return
	}
	short := ""
	if h.Short() {
		short = "The card is nearly full: less than a tenth is free."
	}
	d.setTrouble("storage card", short)
	var remarks []string
	if h.BackupsHere && d.cfg.Now().In(d.garden.Site.Zone).Day() <= 7 {
		remarks = []string{"The journal's backups lie on its own card, and one broken card would take both: name another folder under [backup] in garden.toml."}
	}
	_ = d.do(ctx, func() { d.walk.Remarks(remarks) })
}
