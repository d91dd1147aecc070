package dashboards

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
)

// saidPage is the log of messages.
type saidPage struct {
	frame
	Missing string
	Rows    []saidRow
	All     bool // with when each began and ended
	Older   string
}

type saidRow struct {
	When, WhenISO string
	Text, Saw     string
	Rank, What    string // Rank gives the row's look
	Pots          []string
	Where, Until  string
	Key           string
}

const saidAtOnce = 100

// said lists what was said and why. With all=1 it lists every change: when each began and ended, and until when it was worth sending.
func (p *Pages) said(w http.ResponseWriter, r *http.Request) error {
	st, err := p.standing()
	if err != nil {
		return err
	}
	page := &saidPage{frame: p.frame(r, st, "said")}
	page.Title, page.All = "Messages", r.URL.Query().Get("all") == "1"
	b := newBench(st, p.cfg.Now())
	changes := st.Recent
	if p.cfg.Messages != nil {
		before := b.now.Add(time.Minute)
		if t, err := time.Parse(time.RFC3339, r.URL.Query().Get("before")); err == nil {
			before = t
		}
		if changes, err = p.cfg.Messages.Changes(r.Context(), before, saidAtOnce); err != nil {
			return err
		}
		if len(changes) == saidAtOnce {
			page.Older = "/said?before=" + url.QueryEscape(iso(changes[len(changes)-1].At))
			if page.All {
				page.Older += "&all=1"
			}
		}
	}
	if !page.All {
		changes = slices.DeleteFunc(slices.Clone(changes), func(c alerts.Change) bool { return c.Text == "" })
	}
	for i := range changes {
		if n := len(page.Rows); n > 0 && together(&changes[i-1], &changes[i]) {
			page.Rows[n-1].Pots = append(slices.Clone(page.Rows[n-1].Pots), changes[i].Pots...)
			continue
		}
		page.Rows = append(page.Rows, b.saidRow(&changes[i], page.All))
	}
	return p.showTagged(w, r, "said", page)
}

// together reports whether two wordless changes are one thing that happened to several pots.
func together(a, b *alerts.Change) bool {
	return a.Text == "" && b.Text == "" && a.At.Equal(b.At) && a.Kind == b.Kind && a.State == b.State && a.Place == b.Place
}

func (b *bench) saidRow(c *alerts.Change, all bool) saidRow {
	row := saidRow{When: b.when(c.At), WhenISO: iso(c.At), Text: c.Text, Saw: c.Saw, Pots: c.Pots, Where: b.placeIf(c.Place), Key: c.Key}
	if c.Rank >= alerts.Tonight && c.Rank <= alerts.Digest {
		row.Rank = c.Rank.String()
	}
	if row.What = aboutMessage(c.Kind); all {
		row.What += ", " + stateWords(c.State)
	}
	if c.To != "" {
		row.What += ", to the " + c.To
	}
	if all && !c.Until.IsZero() {
		row.Until = b.when(c.Until)
	}
	return row
}

// aboutMessage names what a message is about: the rule's name, or a plainer one.
func aboutMessage(kind string) string {
	switch kind {
	case "digest":
		return "the week"
	case "water-light":
		return "light watering"
	case "dress-now":
		return "granules"
	case "gap":
		return "missing readings"
	}
	return strings.ReplaceAll(kind, "-", " ")
}

func stateWords(s alerts.State) string {
	switch s {
	case alerts.Raised:
		return "began"
	case alerts.Worse:
		return "got worse"
	case alerts.Cleared:
		return "is over"
	case alerts.Said:
		return "said"
	}
	return "recorded"
}
