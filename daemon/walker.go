package daemon

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/poll"
	"lathwatch/sensors/tape"
)

// walker is the goroutine that lives in the loop: rounds come in, changes go out, notes and questions are answered between.
func (d *Daemon) walker(ctx context.Context) error {
	pulse := time.NewTicker(lookEvery)
	defer pulse.Stop()
	for {
		now := time.Now()
		d.beat.Store(&now)
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-pulse.C:
		case v := <-d.poller.Rounds():
			d.visit(ctx, v)
		case ask := <-d.asks:
			ask()
		}
	}
}

// alive is when the walker was last between two pieces of work.
func (d *Daemon) alive() time.Time {
	if t := d.beat.Load(); t != nil {
		return *t
	}
	return time.Time{}
}

func (d *Daemon) visit(ctx context.Context, v poll.Visit) {
	if v.Entry.Late != nil { // its readings carry their own times, whatever this board's clock says
		d.late(ctx, v.Entry.Late)
		return
	}
	d.faring.tally.visit(v)
	if !v.Stamp.Trusted {
		d.hold(ctx, v)
		return
	}
	d.placeHeld(ctx, v.Stamp)
	if d.stale && v.Entry.At.Sub(d.refolded) >= refoldEvery {
		d.refolded = v.Entry.At
		d.refold(ctx)
	}
	d.live(ctx, v.Entry)
	d.placeLate(ctx)
}

// live folds, judges, keeps and shows one live round.
func (d *Daemon) live(ctx context.Context, e sensors.Entry) {
	d.walk.Troubles(d.troubles())
	changes, err := d.walk.Take(e)
	if err != nil {
		d.cfg.Log.Error("judging a round", "err", err)
		return
	}
	changes = append(d.pending, changes...)
	d.keep(ctx, *e.Round, changes)
	d.learn(ctx, d.walk.Fresh())
	d.show()
	d.tell(push.Update{Round: e.Round, Standing: d.Standing()})
}

// keep commits a round with what it caused. A journal that cannot be written does not stop the walk: the daemon goes on from
// memory, says so, and tries again with the next round.
func (d *Daemon) keep(ctx context.Context, r sensors.Round, changes []alerts.Change) {
	defer func() { d.faring.tally.unkept(len(d.unkept)) }()
	d.unkept = append(d.unkept, journal.Kept{Round: r, Changes: changes})
	d.pending = nil
	err := d.keepWaiting(ctx)
	if err == nil {
		d.newest.Store(r.At.UnixMilli())
		d.setTrouble("storage", "")
		d.degraded.Store(false)
		return
	}
	if errors.Is(err, context.Canceled) {
		return
	}
	d.unkept = newestOf(d.unkept, unkeptMost)
	d.degraded.Store(true)
	for _, b := range d.boxes {
		b.remember(changes)
	}
	d.cfg.Log.Error("keeping a round", "err", err, "waiting", len(d.unkept))
	d.setTrouble("storage", fmt.Sprintf("The journal cannot be written (%v): rounds are kept in memory only.", err))
}

// provisionalAfter is how long rounds may be held before they are also judged, on a provisional time.
const provisionalAfter = 30 * time.Minute

// hold keeps a round of an untrusted clock apart until its instant is known. After half an hour such rounds are judged too, on
// the newest instant on record plus what the monotonic clock has counted since; when the clock is set the season is walked anew.
func (d *Daemon) hold(ctx context.Context, v poll.Visit) {
	if d.heldFrom == nil {
		d.heldFrom = &v.Stamp
	}
	held := v.Stamp.Mono - d.heldFrom.Mono
	say := "The clock is not to be trusted yet (" + v.Stamp.Why + "): readings are held until it is"
	if held >= provisionalAfter {
		say += ", and judged on a provisional time meanwhile"
	}
	d.setTrouble("clock", say+".")
	d.unheld = newestOf(append(d.unheld, journal.HeldRound{Boot: v.Stamp.BootID, Mono: v.Stamp.Mono, Round: *v.Entry.Round}), unkeptMost)
	if err := d.holdWaiting(ctx); err != nil {
		d.cfg.Log.Error("holding a round of an untrusted clock", "err", err, "waiting", len(d.unheld))
	}
	if held >= provisionalAfter {
		d.provisional(ctx, *v.Entry.Round, held)
	}
	d.show()
}

func (d *Daemon) provisional(ctx context.Context, r sensors.Round, held time.Duration) {
	if newest := time.UnixMilli(d.newest.Load()).UTC(); d.newest.Load() > 0 && r.At.Before(newest.Add(held)) {
		r.At = newest.Add(held).Truncate(time.Second)
	}
	d.walk.Troubles(d.troubles())
	changes, err := d.walk.Take(sensors.Entry{At: r.At, Round: &r})
	if err != nil {
		d.cfg.Log.Error("judging a round on provisional time", "err", err)
		return
	}
	if err := d.journal.Record(ctx, changes); err != nil {
		d.cfg.Log.Error("recording what a round on provisional time caused", "err", err)
		d.pending = append(d.pending, changes...)
		for _, b := range d.boxes {
			b.remember(changes)
		}
	}
}

// placeHeld gives held rounds of this boot their true instants once the clock is trusted.
func (d *Daemon) placeHeld(ctx context.Context, by poll.Stamp) {
	if d.takeTrouble("clock") == "" && d.heldLooked {
		return
	}
	d.heldFrom = nil
	err := d.holdWaiting(ctx)
	var placed []sensors.Round
	if err == nil {
		placed, err = d.journal.PlaceHeld(ctx, by.BootID, by.Wall.Add(-by.Mono))
	}
	if d.heldLooked = err == nil; err != nil { // tried again with the next round
		d.cfg.Log.Error("placing held rounds", "err", err)
		return
	}
	if len(placed) > 0 {
		d.refold(ctx)
	}
}

// refoldEvery is how often the season is walked anew for late readings at most: wireless probes may deliver some with every round.
const refoldEvery = 30 * time.Minute

func (d *Daemon) refold(ctx context.Context) {
	d.stale = false
	if err := d.replay(ctx); err != nil {
		d.cfg.Log.Error("walking the season anew", "err", err)
	}
}

// do runs f on the walker and waits for it.
func (d *Daemon) do(ctx context.Context, f func()) error {
	done := make(chan struct{})
	select {
	case d.asks <- func() { defer close(done); f() }:
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// TakeNote writes down what the keeper did or saw. A note of the present is folded at once; a back-dated one walks the season
// anew, at its own time.
func (d *Daemon) TakeNote(ctx context.Context, n sensors.Note) error {
	n, err := d.finish(n)
	if err != nil {
		return err
	}
	var kept error
	err = d.do(ctx, func() { kept = d.note(ctx, n) })
	if say := ledger.Objection(n); say != "" && cmp.Or(err, kept) == nil {
		d.cfg.Log.Info(say, "subject", n.Subject) // the page shows it beside the note, whichever door it came by
	}
	return cmp.Or(err, kept)
}

func (d *Daemon) note(ctx context.Context, n sensors.Note) error {
	if n.What != sensors.Undo && d.walk.Subjects(n.Subject) == 0 && !d.alertSubject(n) {
		return Wrong{fmt.Errorf("%q is no pot, plant, place or all:<regime> of this garden", n.Subject)}
	}
	if err := d.journal.AddNote(ctx, n, nil); err != nil {
		return fmt.Errorf("keeping the note: %w", err)
	}
	if last := d.newest.Load(); n.What == sensors.Undo || n.At.UnixMilli() < last {
		d.refold(ctx)
		return nil
	}
	if _, err := d.walk.Take(sensors.Entry{At: n.At, Note: &n}); err != nil {
		return err
	}
	d.show()
	return nil
}

// alertSubject reports whether a seen or snoozed note names a standing alert.
func (d *Daemon) alertSubject(n sensors.Note) bool {
	if n.What == sensors.Away || n.What == sensors.Back {
		return n.Subject == "garden"
	}
	return slices.ContainsFunc(d.Standing().Alerts, func(a alerts.Alert) bool { return a.Subject == n.Subject })
}

// tell hands an update to every way; a slow one loses this one, never a change.
func (d *Daemon) tell(u push.Update) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, c := range d.updates {
		select {
		case c <- u:
		default:
		}
	}
}

func (d *Daemon) subscribe() <-chan push.Update {
	c := make(chan push.Update, 4)
	d.mu.Lock()
	d.updates = append(d.updates, c)
	d.mu.Unlock()
	return c
}

// setTrouble notes what only the keeper can mend; an empty text ends it.
func (d *Daemon) setTrouble(kind, text string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if text == "" {
		delete(d.trouble, kind)
		return
	}
	if d.trouble[kind] != text {
		d.trouble[kind] = text
		d.cfg.Log.Warn(text, "kind", kind)
	}
}

// takeTrouble ends a trouble and gives what it said.
func (d *Daemon) takeTrouble(kind string) string {
	d.mu.Lock()
	defer d.mu.Unlock()
	t := d.trouble[kind]
	delete(d.trouble, kind)
	return t
}

// troubles lists what only the keeper can mend, for the rules: their kinds are clock, storage and broker.
func (d *Daemon) troubles() []alerts.Trouble {
	d.mu.Lock()
	defer d.mu.Unlock()
	var all []alerts.Trouble
	for _, k := range slices.Sorted(maps.Keys(d.trouble)) {
		kind := k
		switch {
		case k == "journal" || k == "backup" || k == "storage card":
			kind = "storage"
		case strings.HasSuffix(k, " "+push.TroubleSilent):
			kind = "broker"
		case strings.HasSuffix(k, " "+push.TroubleClock):
			kind = "clock"
		}
		all = append(all, alerts.Trouble{Kind: kind, Text: d.trouble[k]})
	}
	return all
}

func troubleSentence(trouble map[string]string) string {
	var all []string
	for _, k := range slices.Sorted(maps.Keys(trouble)) {
		all = append(all, trouble[k])
	}
	return strings.Join(all, " ")
}

// Batch takes recorded entries on the walker, between live ones, and keeps their rounds in one transaction: for simulated and
// imported rounds, a day at a time. Live rounds are never batched.
func (d *Daemon) Batch(ctx context.Context, steps func(take func(sensors.Entry) ([]alerts.Change, error)) error) error {
	var failed error
	err := d.do(ctx, func() {
		var kept []journal.Kept
		failed = steps(func(e sensors.Entry) ([]alerts.Change, error) {
			if e.Note != nil {
				n, err := tape.Checked(*e.Note)
				if err != nil {
					return nil, err
				}
				if err := d.journal.AddNote(ctx, n, nil); err != nil {
					return nil, err
				}
				e.Note = &n
			}
			changes, err := d.walk.Take(e)
			if err == nil && e.Round != nil {
				kept = append(kept, journal.Kept{Round: *e.Round, Changes: append(d.pending, changes...)})
				d.pending = nil
			}
			return changes, err
		})
		failed = cmp.Or(failed, d.journal.KeepAll(ctx, kept))
		d.learn(ctx, d.walk.Fresh())
		if len(kept) > 0 && failed == nil {
			d.newest.Store(kept[len(kept)-1].Round.At.UnixMilli())
		}
		d.show()
	})
	return cmp.Or(err, failed)
}
