package main

import (
	"fmt"
	"os"

	"lathwatch/daemon"
)

// calendarCmd hands out the coming days for calendar apps.
type calendarCmd struct {
	State  string `type:"path" default:"${state}" help:"The folder of the daemon asked." env:"STATE_DIRECTORY"`
	New    bool   `help:"Make a secret address for a calendar app; whoever knows it can read the calendar."`
	Revoke bool   `help:"Revoke every address there is."`
	Out    string `type:"path" help:"Write the calendar to this file (.ics) once." placeholder:"FILE"`
}

// Run asks the running daemon.
func (c *calendarCmd) Run(w *world) error {
	client, err := daemon.Dial(c.State)
	if err != nil {
		return fmt.Errorf("the calendar comes from the running daemon: %w", err)
	}
	a, err := client.Calendar(w.ctx, c.New, c.Revoke)
	if err != nil {
		return err
	}
	if c.Revoke {
		fmt.Fprintln(w.out, "Every calendar address there was is void.")
	}
	if a.Path != "" {
		fmt.Fprintf(w.out, "%s\nPut the page's address before it. It is shown once; keep it as you would a key.\n", a.Path)
	}
	if c.Out != "" {
		return os.WriteFile(c.Out, []byte(a.Text), 0o644)
	}
	if !c.New && !c.Revoke {
		fmt.Fprint(w.out, a.Text)
	}
	return nil
}
