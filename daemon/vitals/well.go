package vitals

import (
	"fmt"
	"time"
)

// A Line is one line of the short answer: something that must be well, and whether it is.
type Line struct {
	Name string `json:"name"`
	Well bool   `json:"well"`
	Say  string `json:"say,omitempty"`
}

// Well answers in short whether the daemon does its work: every needed worker lives, rounds are walked and kept, and something
// answers. It names workers and times and nothing else: it may be read without signing in.
func (r *Report) Well() (lines []Line, well bool) {
	well = true
	add := func(name, ill, fine string) {
		l := Line{Name: name, Well: ill == "", Say: fine}
		if ill != "" {
			l.Say, well = ill, false
		}
		lines = append(lines, l)
	}
	for _, w := range r.Workers {
		if w.Needed {
			add(w.Name, w.Ill, "")
		}
	}
	add("journal", r.unwritten(), "")
	add("round", r.overdue(), ago(r.Rounds.Since)+" ago")
	add("answers", r.deaf(), "")
	return lines, well
}

func (r *Report) unwritten() string {
	switch {
	case r.Journal.ReadOnly:
		return "can only be read"
	case r.Rounds.Degraded:
		return "cannot be written"
	case r.Journal.Unknown != "":
		return "gives no answer"
	}
	return ""
}

// slack is how much later than two rounds the newest may be: a round itself takes up to two minutes.
const slack = 2 * time.Minute

// overdue says that no round was walked for too long.
func (r *Report) overdue() string {
	if r.Rounds.Since <= 2*r.Rounds.Every+slack {
		return ""
	}
	return "none for " + ago(r.Rounds.Since)
}

// deaf says that nothing at all answers, on any bus that is asked.
func (r *Report) deaf() string {
	asked := 0
	for _, b := range r.Buses {
		if b.Listens || b.Asked == 0 {
			continue
		}
		if asked++; b.Down < b.Chips || b.Answered >= 0 && b.Answered <= 2*r.Rounds.Every { // one round missed is no deafness
			return ""
		}
	}
	if asked == 0 {
		return ""
	}
	return "no probe answers on any bus"
}

// Faults lists all that a keeper should look at, in sentences; none when all is well.
func (r *Report) Faults() (all []string) {
	lines, _ := r.Well()
	for _, l := range lines {
		if !l.Well {
			all = append(all, l.Name+": "+l.Say)
		}
	}
	for _, b := range r.Buses {
		if !b.Listens && b.Asked > 0 && b.Down > 0 {
			all = append(all, fmt.Sprintf("bus %s: %d of %d chips gave nothing at the last visit", b.Name, b.Down, b.Chips))
		}
	}
	for _, p := range r.Probes {
		switch {
		case p.Fault != "":
			all = append(all, "probe "+p.ID+": "+p.Fault)
		case p.At.IsZero():
			all = append(all, "probe "+p.ID+": has never answered")
		case p.Silent:
			all = append(all, "probe "+p.ID+": silent since "+p.At.UTC().Format(minute))
		}
	}
	if r.Journal.Unread > 0 {
		all = append(all, fmt.Sprintf("journal: %d parts of the past cannot be read", r.Journal.Unread))
	}
	if r.Forward != nil && r.Forward.Trouble != "" {
		all = append(all, "forwarder: "+r.Forward.Trouble)
	}
	if !r.Clock.Trusted {
		all = append(all, "clock: "+r.Clock.Why)
	}
	if r.Trouble != "" {
		all = append(all, r.Trouble)
	}
	return all
}

const minute = "2006-01-02 15:04 UTC"

// ago is a span as a person says it.
func ago(d time.Duration) string {
	switch {
	case d < time.Second:
		return "0 s"
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", d/time.Second)
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", d/time.Minute)
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", d/time.Hour)
	}
	return fmt.Sprintf("%d d", d/(24*time.Hour))
}
