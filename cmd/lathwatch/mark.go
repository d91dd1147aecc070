package main

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// markCmd guides the two-point calibration of a pot's moisture probe: three minutes of work in two visits, weeks apart if need be.
type markCmd struct {
	place
	Root   string        `type:"path" placeholder:"FOLDER" help:"Look for sys and dev below this folder instead of /: a made-up board, to try things without one."`
	Pot    string        `arg:"" help:"The pot."`
	Which  string        `arg:"" enum:"drained-full,driest-allowed" help:"drained-full: watered through and drained an hour. driest-allowed: as light as you would ever let it."`
	Probe  string        `help:"Which moisture probe, where the pot has several." placeholder:"ID"`
	Like   string        `help:"Borrow the mark of another pot with the same probe and mix; a guess until this pot has its own." placeholder:"POT"`
	Weight string        `help:"What the pot weighs now; with weights at both marks a weighing alone tells its water." placeholder:"\"2450 g\""`
	Share  string        `help:"What driest-allowed stands for, as a share of drained-full, if you know it." placeholder:"\"20 %\""`
	Wait   time.Duration `default:"30m" help:"How long to wait for a steady reading."`
	Every  time.Duration `hidden:"" default:"5s"`
}

// Run waits for a steady reading and notes the mark.
func (c *markCmd) Run(w *world) error {
	g, _, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	pot := g.Pot(c.Pot)
	if pot == nil {
		return misuse{fmt.Errorf("there is no pot %q in %s", c.Pot, c.Garden)}
	}
	probe, err := c.probe(g)
	if err != nil {
		return misuse{err}
	}
	if c.Like != "" {
		return c.borrow(w, string(probe.ID))
	}
	if c.Which == "drained-full" {
		fmt.Fprintln(w.out, "Only mark a pot that was watered through for its own sake and has drained an hour; never soak a resting pot for this (--like POT borrows a mark instead).")
	}
	line, err := c.steady(w, string(probe.ID))
	if err != nil {
		return err
	}
	u, err := unitOf(line)
	if err != nil {
		return err
	}
	detail := fmt.Sprintf("%s %s %s", probe.ID, c.Which, u.Format(line.Whole))
	if c.Which == "driest-allowed" && c.Share == "" && c.Weight == "" {
		c.Share = c.ask(w)
	}
	if c.Share != "" {
		if _, err := units.ParseAs(c.Share, units.Moisture); err != nil {
			return misuse{err}
		}
		detail += " " + c.Share
	}
	lines, err := c.onRecord(w)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if l.ID == line.ID {
			line.Marks = l.Marks
		}
	}
	if err := c.compare(w, line, u); err != nil {
		return err
	}
	if err := c.note(w, detail); err != nil || c.Weight == "" {
		return err
	}
	weighed := noteCmd{place: c.place, Subject: c.Pot, What: string(sensors.Weighed), Detail: []string{c.Weight}}
	return weighed.Run(w)
}

// ask asks at a terminal what driest-allowed stands for; elsewhere, and for an empty answer, the dry limit of the regime.
func (c *markCmd) ask(w *world) string {
	in, ok := w.in.(*os.File)
	if !ok || !terminal(w.out) {
		return ""
	}
	if s, err := in.Stat(); err != nil || s.Mode()&os.ModeCharDevice == 0 {
		return ""
	}
	fmt.Fprint(w.out, "What share of drained-full is this, by weight or by feel? (like \"20 %\"; empty: the dry limit of its regime) ")
	answer, _ := bufio.NewReader(in).ReadString('\n')
	return strings.TrimSpace(answer)
}

func (c *markCmd) probe(g *garden.Garden) (*garden.Probe, error) {
	var of []*garden.Probe
	for i := range g.Probes {
		p := &g.Probes[i]
		if p.Pot == c.Pot && p.Measures == garden.PotMoisture && (c.Probe == "" || string(p.ID) == c.Probe) {
			of = append(of, p)
		}
	}
	switch len(of) {
	case 0:
		return nil, fmt.Errorf("pot %s has no such moisture probe in the garden file", c.Pot)
	case 1:
		return of[0], nil
	}
	return nil, fmt.Errorf("pot %s has %d moisture probes: say which with --probe %s", c.Pot, len(of), of[0].ID)
}

// steady waits until three readings of different moments lie within a hundredth of each other.
func (c *markCmd) steady(w *world, id string) (daemon.ProbeLine, error) {
	ask := probesCmd{place: c.place, Root: c.Root}
	deadline := time.Now().Add(c.Wait)
	var seen []daemon.ProbeLine
	for {
		s, err := ask.survey(w)
		if err != nil {
			return daemon.ProbeLine{}, err
		}
		for _, l := range s.Probes {
			if l.ID != id || l.Value == "" || l.Fault != "" || l.Suspect || len(seen) > 0 && !l.At.After(seen[len(seen)-1].At) {
				continue
			}
			seen = append(seen, l)
			fmt.Fprintf(w.out, "%s  %s\n", l.At.Format("15:04:05"), l.Value)
		}
		if n := len(seen); n >= 3 && close3(seen[n-3:]) {
			return seen[n-1], nil
		}
		if time.Now().After(deadline) {
			return daemon.ProbeLine{}, fmt.Errorf("probe %s gave no steady reading in %v (%d readings): nothing was marked", id, c.Wait, len(seen))
		}
		select {
		case <-w.ctx.Done():
			return daemon.ProbeLine{}, w.ctx.Err()
		case <-time.After(c.Every):
		}
	}
}

func close3(l []daemon.ProbeLine) bool {
	lo, hi := l[0].Whole, l[0].Whole
	for _, x := range l[1:] {
		lo, hi = min(lo, x.Whole), max(hi, x.Whole)
	}
	return (hi-lo)*100 <= max(hi, -lo)
}

func unitOf(l daemon.ProbeLine) (units.Unit, error) {
	_, u, err := units.Parse(l.Value)
	return u, err
}

// borrow notes the newest such mark of another pot's probe.
func (c *markCmd) borrow(w *world, id string) error {
	lines, err := c.onRecord(w)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if l.Pot != c.Like || l.Measures != garden.PotMoisture.String() {
			continue
		}
		for i := len(l.Marks) - 1; i >= 0; i-- {
			if m := l.Marks[i]; m.Which.String() == c.Which {
				u := units.Voltage
				if l.Value != "" {
					_, u, _ = units.Parse(l.Value)
				}
				fmt.Fprintf(w.out, "borrowed from %s: a guess until %s has a mark of its own\n", c.Like, c.Pot)
				return c.note(w, fmt.Sprintf("%s %s %s", id, c.Which, u.Format(m.Raw)))
			}
		}
	}
	return misuse{fmt.Errorf("pot %s has no %s mark to borrow", c.Like, c.Which)}
}

// onRecord lists the probes with the marks that are on record, whether a daemon runs or not.
func (c *markCmd) onRecord(w *world) ([]daemon.ProbeLine, error) {
	ask := probesCmd{place: c.place, Root: c.Root}
	s, err := ask.survey(w)
	if err != nil {
		return nil, err
	}
	if _, err := daemon.Dial(c.State); err == nil {
		return s.Probes, nil
	}
	past, err := daemon.OpenPast(w.ctx, "", c.State)
	if errors.Is(err, fs.ErrNotExist) {
		return s.Probes, nil
	}
	if err != nil {
		return nil, err
	}
	defer past.Close()
	return s.Probes, daemon.NotedMarks(w.ctx, past.Journal, s.Probes)
}

// compare refuses a mark that lies too close to the other one of the same epoch.
func (c *markCmd) compare(w *world, l daemon.ProbeLine, u units.Unit) error {
	var other *garden.Mark
	for i := range l.Marks {
		switch m := &l.Marks[i]; {
		case m.Which == garden.NewEpoch:
			other = nil
		case m.Which.String() != c.Which:
			other = m
		}
	}
	if other == nil {
		return nil
	}
	if advice := daemon.MarkAdvice(other.Raw, l.Whole, u); advice != "" {
		fmt.Fprintln(w.err, advice)
		return errFault
	}
	return nil
}

func (c *markCmd) note(w *world, detail string) error {
	n := noteCmd{place: c.place, Subject: c.Pot, What: string(sensors.Marks), Detail: []string{detail}}
	return n.Run(w)
}
