package main

import (
	"errors"
	"fmt"

	"lathwatch/daemon"
)

// live asks the running daemon how it fares; status 1 when nobody answers or something is wrong.
func (c *checkCmd) live(w *world) error {
	client, err := daemon.Dial(c.State)
	if errors.Is(err, daemon.ErrNobody) {
		fmt.Fprintln(w.err, "lathwatch:", noDaemon(c.State))
		return errFault
	}
	if err != nil {
		return err
	}
	r, err := client.Fares(w.ctx)
	if err != nil {
		return err
	}
	tell := r.Write
	if c.JSON {
		tell = r.WriteJSON
	}
	if err := tell(w.out); err != nil {
		return err
	}
	if len(r.Faults()) > 0 {
		return errFault
	}
	return nil
}
