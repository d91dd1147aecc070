package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"lathwatch/alerts/push"
	"lathwatch/daemon"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors/garden"
)

// checkCmd looks a garden file over and, where a daemon runs, asks it how it fares.
type checkCmd struct {
	place
	JSON     bool   `name:"json" help:"One JSON object a line."`
	Journal  bool   `help:"Read the whole journal and every checksum in it."`
	Live     bool   `help:"Ask the running daemon about everything: workers, buses, probes, journal, ways out, clock, starts."`
	Bundle   string `type:"path" placeholder:"FILE" help:"Write a support bundle (.tar.gz): how everything stands, without secrets."`
	Readings bool   `help:"With --bundle: also the readings of the last two weeks."`
	Root     string `type:"path" placeholder:"FOLDER" help:"Look for sys and dev below this folder instead of /: a made-up board, to try things without one."`
	Explain  bool   `help:"Say in plain words what is configured, what is a guess and what to do next."`
}

// Run checks: status 2 when the file is refused, 1 when the running daemon is in trouble.
func (c *checkCmd) Run(w *world) error {
	switch {
	case c.Readings && c.Bundle == "":
		return misuse{errors.New("--readings goes with --bundle")}
	case c.Bundle != "":
		return c.bundle(w)
	case c.Live:
		return c.live(w)
	case c.Journal:
		return c.journal(w)
	}
	g, _, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	lines := remarks(g)
	if c.JSON {
		json.NewEncoder(w.out).Encode(map[string]any{"garden": c.Garden, "places": len(g.Places), "pots": len(g.Pots), "probes": len(g.Probes), "remarks": lines})
	} else {
		fmt.Fprintf(w.out, "%s: %d %s, %d %s, %d %s; all of it is understood.\n", c.Garden, len(g.Places), plural(len(g.Places), "place"), len(g.Pots), plural(len(g.Pots), "pot"),
			len(g.Probes), plural(len(g.Probes), "probe"))
		if c.Explain {
			lines = daemon.Explain(g)
		}
		for _, l := range lines {
			fmt.Fprintln(w.out, l)
		}
	}
	client, err := daemon.Dial(c.State)
	if errors.Is(err, daemon.ErrNobody) {
		if !c.JSON {
			fmt.Fprintln(w.out, "No daemon is running here.")
		}
		return nil
	}
	if err != nil {
		return err
	}
	h, err := client.Health(w.ctx)
	if err != nil {
		return err
	}
	return c.health(w.out, h)
}

// journal reads everything on record; status 1 when a part cannot be read.
func (c *checkCmd) journal(w *world) (err error) {
	past, err := daemon.OpenPast(w.ctx, "", c.State)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	r, err := past.Check(w.ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%d readings in %d sealed days and %d rounds", r.Readings, r.Days, r.Rounds)
	if !r.First.IsZero() {
		fmt.Fprintf(w.out, ", from %s to %s", r.First.Format("2006-01-02"), r.Last.Format("2006-01-02"))
	}
	fmt.Fprintln(w.out)
	starts, err := past.Starts(w.ctx, 10)
	if err != nil {
		return err
	}
	tellStarts(w.out, daemon.StartLines(starts), 10)
	for _, bad := range append(r.Engine, r.Bad...) {
		fmt.Fprintln(w.err, bad)
	}
	if !r.Sound() {
		return errFault
	}
	fmt.Fprintln(w.out, "Everything on record can be read.")
	return nil
}

func (c *checkCmd) health(out io.Writer, h daemon.Health) error {
	if c.JSON {
		if err := json.NewEncoder(out).Encode(h); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(out, "The daemon is running; its last round was at %s. %s\n", h.At.Format("2006-01-02 15:04 UTC"), h.Sentence)
		if len(h.Silent) > 0 {
			fmt.Fprintf(out, "These probes do not answer: %s.\n", strings.Join(h.Silent, ", "))
		}
		if h.Trouble != "" {
			fmt.Fprintln(out, h.Trouble)
		}
		tellStarts(out, h.Starts, 1)
	}
	if len(h.Silent) > 0 || h.Trouble != "" || h.Degraded {
		return errFault
	}
	return nil
}

// remarks are what is allowed and still worth a word.
func remarks(g *garden.Garden) []string {
	lines := []string{}
	if r := push.Reach(g); r != "" {
		lines = append(lines, r)
	}
	if math.IsNaN(g.Site.Latitude) {
		lines = append(lines, "The latitude is missing: the hemisphere, and with it the season, is asked for and not guessed; write [site] latitude.")
	} else if _, ok := g.Site.South(); !ok {
		lines = append(lines, "The site lies near the equator, where these plants have no winter of their own: seasons are cut as in the north.")
	}
	var unset, bare []string
	for i := range g.Pots {
		p := &g.Pots[i]
		if plant := g.Plant(p.Plant); p.Regime == "" && (plant == nil || plant.Regime == "") {
			unset = append(unset, p.ID)
		}
	}
	for i := range g.Probes {
		if g.Probes[i].Source.Zero() {
			bare = append(bare, string(g.Probes[i].ID))
		}
	}
	if len(unset) > 0 {
		lines = append(lines, "No water regime is given for "+strings.Join(unset, ", ")+": nothing is said of their water until it is (regime = \"dry-winter\" or \"wet-winter\").")
	}
	if len(bare) > 0 {
		lines = append(lines, "No source is given for "+strings.Join(bare, ", ")+": their readings come by import only.")
	}
	return append(lines, ledger.MixRemarks(g)...)
}

func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}
