package main

import (
	"fmt"
	"io"

	"lathwatch/daemon"
)

// tellStarts prints at most n starts, newest first, each with how the run before it ended.
func tellStarts(out io.Writer, starts []daemon.StartLine, n int) {
	for i, s := range starts[:min(n, len(starts))] {
		fmt.Fprintf(out, "Started %s, version %s", s.At.UTC().Format("2006-01-02 15:04 UTC"), s.Version)
		if i+1 < len(starts) {
			before := starts[i+1]
			fmt.Fprintf(out, ", after %s (%s)", before.Ending, before.Ended.UTC().Format("2006-01-02 15:04 UTC"))
		}
		fmt.Fprintln(out)
	}
}
