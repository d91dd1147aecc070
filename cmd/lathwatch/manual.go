package main

import (
	"embed"
	"fmt"
	"io"

	"lathwatch/daemon"
)

// The pages a keeper reads on the board itself, without a network.
//
//go:embed manual/*.md
var manualPages embed.FS

// manualCmd prints a page of the manual.
type manualCmd struct {
	Page string `arg:"" enum:"keys,messages,wireless,sites,board,file" help:"keys: every key of garden.toml with its default. messages: what each message means. wireless: probes over MQTT. sites: several gardens. board: moving to another board. file: reading the journal with other tools."`
}

// Run prints it.
func (c *manualCmd) Run(w *world) error {
	if c.Page == "keys" {
		_, err := io.WriteString(w.out, daemon.Manual())
		return err
	}
	page, err := manualPages.ReadFile("manual/" + c.Page + ".md")
	if err != nil {
		return fmt.Errorf("reading the manual: %w", err)
	}
	_, err = w.out.Write(page)
	return err
}
