// Command openmetrics reads OpenMetrics from its input with the parser of github.com/prometheus/prometheus, a program that collects
// such figures and no part of Lathwatch, and prints every sample, type and unit it found, one a line, as JSON. It is a module of its
// own, so that what that parser needs is not needed by Lathwatch. The exit status is 1 when the parser refuses the text.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/model/textparse"
)

// A found is one line of the output.
type found struct {
	What  string  `json:"what"` // sample, type or unit
	Name  string  `json:"name"` // of a sample with its labels, as it stands in the text
	Value float64 `json:"value"`
	Say   string  `json:"say,omitempty"`
}

func main() {
	if err := read(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "openmetrics:", err)
		os.Exit(1)
	}
}

func read(in io.Reader, out io.Writer) error {
	text, err := io.ReadAll(in)
	if err != nil {
		return err
	}
	enc := json.NewEncoder(out)
	p := textparse.NewOpenMetricsParser(text, labels.NewSymbolTable())
	for {
		kind, err := p.Next()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
		var f found
		switch kind {
		case textparse.EntryType:
			name, t := p.Type()
			f = found{What: "type", Name: string(name), Say: string(t)}
		case textparse.EntryUnit:
			name, u := p.Unit()
			f = found{What: "unit", Name: string(name), Say: string(u)}
		case textparse.EntrySeries:
			series, _, v := p.Series()
			f = found{What: "sample", Name: string(series), Value: v}
			var l labels.Labels
			p.Labels(&l) // undoes escapes
		default:
			continue
		}
		if err := enc.Encode(f); err != nil { // a value JSON has no word for, like NaN, is refused here; Lathwatch writes none
			return err
		}
	}
}
