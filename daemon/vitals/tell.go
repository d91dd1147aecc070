package vitals

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"
)

// Write tells the report as a table.
func (r *Report) Write(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "lathwatch %s, running for %s. %s\n", r.Version, ago(r.At.Sub(r.Began)), r.Sentence)
	r.tellWorkers(w)
	r.tellBuses(w)
	r.tellProbes(w)
	r.tellStore(w)
	r.tellWays(w)
	r.tellStarts(w)
	faults := r.Faults()
	if len(faults) == 0 {
		fmt.Fprint(w, "\nAll is well.\n")
	} else {
		fmt.Fprint(w, "\nTo look at:\n")
		for _, f := range faults {
			fmt.Fprintf(w, "  %s\n", f)
		}
	}
	return w.Flush()
}

func (r *Report) tellWorkers(w io.Writer) {
	fmt.Fprint(w, "\nWorker\tlast sign of life\tlimit\t\n")
	for _, k := range r.Workers {
		switch {
		case !k.Needed:
			fmt.Fprintf(w, "%s\tnot watched\t\t\n", k.Name)
		default:
			fmt.Fprintf(w, "%s\t%s ago\t%s\t%s\n", k.Name, ago(k.Quiet), ago(k.Limit), k.Ill)
		}
	}
	n := r.Rounds
	fmt.Fprintf(w, "\nRounds\t%d walked, one every %s, the newest %s ago; %d readings, %d of them doubted\n", n.Walked, ago(n.Every), ago(n.Since), n.Valid+n.Suspect, n.Suspect)
	if n.Held > 0 || n.Waiting > 0 {
		fmt.Fprintf(w, "\t%d held for a clock, %d waiting for the journal\n", n.Held, n.Waiting)
	}
	if faults := counts(n.Faults); faults != "" {
		fmt.Fprintf(w, "Faults\t%s\n", faults)
	}
	clock := "trusted"
	if !r.Clock.Trusted {
		clock = "not trusted"
	}
	fmt.Fprintf(w, "Clock\t%s: %s\n", clock, r.Clock.Why)
}

// counts lists kinds that are not nought.
func counts(all []Kind) string {
	var parts []string
	for _, k := range all {
		if k.N > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", k.N, k.Name))
		}
	}
	return strings.Join(parts, ", ")
}

func (r *Report) tellBuses(w io.Writer) {
	if len(r.Buses) == 0 {
		return
	}
	fmt.Fprint(w, "\nBus\tchips\tsilent now\tasked\tfailed\tlast answer\t\n")
	for _, b := range r.Buses {
		last, hung := "never", ""
		if b.Answered >= 0 {
			last = ago(b.Answered) + " ago"
		}
		if b.Hung > 0 {
			hung = "a chip has not come back for " + ago(b.Hung)
		}
		fmt.Fprintf(w, "%s\t%d\t%d\t%d\t%.1f %%\t%s\t%s\n", b.Name, b.Chips, b.Down, b.Asked, 100*b.Share(), last, hung)
	}
}

func (r *Report) tellProbes(w io.Writer) {
	fmt.Fprint(w, "\nProbe\tmeasures\tlast\twhen\t\n")
	for _, p := range r.Probes {
		when, say := "never", p.Fault
		if !p.At.IsZero() {
			when = ago(r.At.Sub(p.At)) + " ago"
		}
		switch {
		case say != "":
		case p.Silent:
			say = "silent"
		case p.Suspect:
			say = "doubted"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", p.ID, p.Measures, p.Value, when, say)
	}
}

func (r *Report) tellStore(w io.Writer) {
	j := r.Journal
	fmt.Fprintf(w, "\nJournal\t%s: %s and a log of %s; %s of %s free\n", j.Path, bytes(j.Size), bytes(j.Log), bytes(j.Free), bytes(j.Whole))
	fmt.Fprintf(w, "\t%d commits since the start, %s on average, %s at the longest\n", j.Commits, took(j.CommitsMean), took(j.CommitsLongest))
	backup := "none yet"
	if !j.LastBackup.IsZero() {
		backup = ago(r.At.Sub(j.LastBackup)) + " ago"
	}
	if j.BackupsHere {
		backup += ", on the journal's own card"
	}
	fmt.Fprintf(w, "\tlast backup: %s\n", backup)
	for _, say := range []string{j.Mended, j.Unknown} {
		if say != "" {
			fmt.Fprintf(w, "\t%s\n", say)
		}
	}
}

func (r *Report) tellWays(w io.Writer) {
	fmt.Fprint(w, "\nWay out\twaiting\t\n")
	if len(r.Ways) == 0 {
		fmt.Fprint(w, "none: messages stay on this board\n")
	}
	for _, o := range r.Ways {
		fmt.Fprintf(w, "%s\t%d\t%s\n", o.Name, o.Waiting+o.Memory, o.Trouble)
	}
	if f := r.Forward; f != nil {
		fmt.Fprintf(w, "Forwarder\t%s behind, %d lines sent, %d set aside for good\t%s\n", ago(f.Lag), f.Sent, f.Aside, f.Trouble)
	}
	if standing := counts(r.Alerts); standing != "" {
		fmt.Fprintf(w, "Standing\t%s\n", standing)
	}
}

func (r *Report) tellStarts(w io.Writer) {
	if len(r.Starts) == 0 {
		return
	}
	fmt.Fprint(w, "\nStart\tversion\tended with\n")
	for _, s := range r.Starts {
		ending := s.Ending
		if s.How == "" {
			ending = "(runs)"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", s.At.UTC().Format(minute), s.Version, ending)
	}
}

func bytes(n int64) string {
	switch {
	case n < 10<<10:
		return fmt.Sprintf("%d B", n)
	case n < 10<<20:
		return fmt.Sprintf("%d KiB", n>>10)
	}
	return fmt.Sprintf("%d MiB", n>>20)
}

func took(d time.Duration) string {
	return fmt.Sprintf("%.1f ms", float64(d)/float64(time.Millisecond))
}

// WriteJSON tells the report as one JSON object a line, each with what it is of.
func (r *Report) WriteJSON(out io.Writer) error {
	enc := json.NewEncoder(out)
	var failed error
	line := func(v any) {
		if err := enc.Encode(v); err != nil && failed == nil {
			failed = err
		}
	}
	lines, well := r.Well()
	line(struct {
		What     string    `json:"what"`
		At       time.Time `json:"at"`
		Version  string    `json:"version"`
		Began    time.Time `json:"began"`
		Well     bool      `json:"well"`
		Sentence string    `json:"sentence"`
		Faults   []string  `json:"faults"`
	}{"daemon", r.At.UTC(), r.Version, r.Began.UTC(), well, r.Sentence, append([]string{}, r.Faults()...)})
	for _, l := range lines {
		line(struct {
			What string `json:"what"`
			Line
		}{"needed", l})
	}
	for _, v := range r.jsonLines() {
		line(v)
	}
	return failed
}
