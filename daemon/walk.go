package daemon

import (
	"fmt"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/rules"
	"lathwatch/daemon/config"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// A Walk takes entries in order and says what each one caused. A start, a rehearsal of a past winter, late data and live rounds
// go through the same Walk: there is no second code path for history.
type Walk struct {
	fold   *alerts.Fold
	judge  *alerts.Judge
	fixed  bool // the garden does not follow garden entries (rehearse --garden)
	undone map[string]bool
	recent []alerts.Change
	reach  string
	rounds int64
}

// recentKept is how many messages a Standing carries.
const recentKept = 50

// NewWalk starts with no garden; the first garden entry or SetGarden brings one.
func NewWalk() *Walk { return &Walk{fold: alerts.NewFold(), judge: alerts.NewJudge(nil)} }

// Fix uses one garden for the whole walk, whatever garden entries say.
func (w *Walk) Fix(at time.Time, g *garden.Garden) error {
	w.fixed = true
	return w.garden(at, g)
}

// Undone names notes that a later note took back: they are passed over.
func (w *Walk) Undone(ids map[string]bool) { w.undone = ids }

// Teach takes up what earlier seasons taught, in order, before the first entry of the season is taken.
func (w *Walk) Teach(rows []alerts.Taught) {
	for _, t := range rows {
		w.fold.Teach(t)
	}
}

// Fresh gives what seasons taught since it was last asked, to be written down.
func (w *Walk) Fresh() []alerts.Taught { return w.fold.Fresh() }

// Reach is what start-up found out about ways out; the Standing carries it.
func (w *Walk) Reach(sentence string) { w.reach = sentence }

// Remarks are for the weekly digest.
func (w *Walk) Remarks(all []string) { w.fold.Live().Remarks = all }

// Troubles says what is wrong with the daemon itself from now on, in order of kind.
func (w *Walk) Troubles(all []alerts.Trouble) { w.fold.Troubles(all) }

func (w *Walk) garden(at time.Time, g *garden.Garden) error {
	rs, err := rules.Build(g.Rules)
	if err != nil {
		return err
	}
	w.fold.Garden(at, g)
	w.judge.Rules(rs)
	return nil
}

// Take folds one entry and judges it. The changes are to be kept in one transaction with the entry.
func (w *Walk) Take(e sensors.Entry) ([]alerts.Change, error) {
	switch {
	case e.Garden != nil:
		if w.fixed {
			return nil, nil
		}
		g, err := config.Parse("garden.toml", []byte(e.Garden.Text))
		if err != nil {
			return nil, fmt.Errorf("garden on record of %s: %w", e.At.Format(time.RFC3339), err)
		}
		return nil, w.garden(e.At, g)
	case e.Note != nil:
		w.note(e.Note)
		return nil, nil
	case e.Round != nil:
		w.rounds++
		w.fold.Round(e.Round)
		return w.remember(w.judge.Round(w.fold.Live())), nil
	}
	return nil, nil
}

func (w *Walk) note(n *sensors.Note) {
	if w.undone[n.ID] || n.What == sensors.Undo {
		return
	}
	switch n.What {
	case sensors.Seen:
		w.judge.Note(n.Detail, n.Subject, n.At, time.Time{})
	case sensors.Snoozed:
		w.judge.Note(n.Detail, n.Subject, n.At, n.At.Add(24*time.Hour))
	default:
		w.fold.Note(n)
	}
}

func (w *Walk) remember(cs []alerts.Change) []alerts.Change {
	for _, c := range cs {
		if c.Text != "" && c.To != "digest" {
			w.recent = append(w.recent, c)
		}
	}
	if over := len(w.recent) - 2*recentKept; over > 0 {
		w.recent = append(w.recent[:0], w.recent[len(w.recent)-recentKept:]...)
	}
	return cs
}

// Adopt squares the walk with the record after the past was walked anew; see alerts.Judge.
func (w *Walk) Adopt(record []alerts.Change) []alerts.Change {
	if w.fold.Live().Garden == nil {
		return nil
	}
	return w.judge.Adopt(w.fold.Live(), record)
}

// Standing gives a snapshot of all that is known, with its alerts, words and verdicts.
func (w *Walk) Standing() *alerts.Standing {
	st := w.fold.Snapshot()
	if st.Garden == nil {
		st.Sentence = alerts.Sentence(st)
		return st
	}
	st.Alerts = w.judge.Describe(st)
	st.Reach = w.reach
	for i := len(w.recent) - 1; i >= 0 && len(st.Recent) < recentKept; i-- {
		st.Recent = append(st.Recent, w.recent[i])
	}
	for i := range st.Pots {
		st.Pots[i].Verdict = alerts.Verdict(&st.Pots[i], st.Alerts)
	}
	st.Sentence = alerts.Sentence(st)
	return st
}

// Rounds is how many rounds were walked.
func (w *Walk) Rounds() int64 { return w.rounds }

// Subjects reports whether a note's subject means anything in the garden in force.
func (w *Walk) Subjects(subject string) int { return len(w.fold.Subjects(subject)) }
