// Command lathwatch watches over hardy orchids in pots under a shelter and by a shaded wall: it reads probes, keeps what they
// said, works out what it means for each pot, and sends a message when there is something to do. Most days there is not.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}
