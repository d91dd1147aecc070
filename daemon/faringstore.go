package daemon

import (
	"context"
	"strings"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/daemon/vitals"
)

func (d *Daemon) farJournal(ctx context.Context, r *vitals.Report) {
	h, err := d.journal.Health(ctx)
	r.Journal = vitals.Journal{Path: h.Path, Size: h.Size, Log: h.Log, Free: h.Free, Whole: h.Whole, Unread: len(h.Unread), ReadOnly: h.ReadOnly, Held: h.Held,
		LastBackup: h.LastBackup, BackupsHere: h.BackupsHere}
	if !h.Report.OK() {
		r.Journal.Mended = "mended at the start: " + h.Report.String()
	}
	d.faring.commits.Into(&r.Journal)
	if err != nil {
		r.Journal.Path, r.Journal.Unknown = d.journal.Path(), err.Error()
		return
	}
	starts, err := d.journal.Starts(ctx, 1000)
	if err != nil {
		r.Journal.Unknown = err.Error()
	}
	r.Starts, r.Ends = farStarts(starts)
}

// farStarts gives the newest starts and how many ended in which way.
func farStarts(starts []journal.Start) (newest []vitals.Start, ends []vitals.Kind) {
	for _, l := range StartLines(starts[:min(len(starts), startsShown)]) {
		newest = append(newest, vitals.Start{At: l.At, Version: l.Version, How: l.How, Ending: l.Ending})
	}
	for _, how := range []journal.End{journal.Stopped, journal.Failed, journal.Hung, journal.Panicked, journal.Killed, journal.Cut} {
		k := vitals.Kind{Name: string(how)}
		for _, s := range starts {
			if s.How == how {
				k.N++
			}
		}
		ends = append(ends, k)
	}
	return newest, ends
}

func (d *Daemon) farWays(ctx context.Context, r *vitals.Report) {
	for _, box := range d.boxes {
		o := vitals.Way{Name: box.name, Memory: box.waiting()}
		n, err := d.journal.Backlog(ctx, box.name)
		if o.Waiting = n; err != nil {
			o.Trouble = "its outbox gives no answer: " + err.Error()
		}
		d.mu.Lock()
		mine := map[string]string{}
		for k, text := range d.trouble {
			if strings.HasPrefix(k, box.name+" ") {
				mine[k] = text
			}
		}
		d.mu.Unlock()
		if say := troubleSentence(mine); say != "" {
			o.Trouble = say
		}
		r.Ways = append(r.Ways, o)
	}
}

func (d *Daemon) farForwarder(ctx context.Context, r *vitals.Report) {
	f := d.faring.forward
	if f == nil {
		return
	}
	s := f.Status()
	v := &vitals.Forward{Through: s.Through, Sent: uint64(s.Sent), TooOld: uint64(s.TooOld), Failures: uint64(s.Failures), Trouble: s.Trouble}
	if ms, ok, err := d.journal.Mark(ctx, f.Mark()); err == nil && ok {
		v.Through = time.UnixMilli(ms).UTC()
	}
	if n, _, _, err := d.journal.Aside(ctx, f.Mark()); err == nil {
		v.Aside = uint64(n)
	}
	switch {
	case v.Through.IsZero():
		v.Lag = r.At.Sub(r.Began) // nothing has arrived there yet
	case r.Rounds.Newest.After(v.Through):
		v.Lag = r.Rounds.Newest.Sub(v.Through)
	}
	r.Forward = v
}
