package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"

	"lathwatch/daemon/journal"
)

// A Past is a journal opened for reading: a file, or a fresh copy of the one a running daemon holds.
type Past struct {
	*journal.Journal
	temp string
}

// Close ends it and removes the copy.
func (p *Past) Close() error {
	err := p.Journal.Close()
	if p.temp != "" {
		err = errors.Join(err, os.RemoveAll(p.temp))
	}
	return err
}

// OpenPast opens a journal file for reading; with no file, the journal of a state directory: through the daemon that holds it
// where one runs.
func OpenPast(ctx context.Context, file, stateDir string) (*Past, error) {
	if file == "" {
		client, err := Dial(stateDir)
		switch {
		case err == nil:
			return client.past(ctx)
		case !errors.Is(err, ErrNobody):
			return nil, err
		}
		file = filepath.Join(stateDir, "lathwatch.journal")
	}
	j, err := journal.Open(file, journal.Options{ReadOnly: true})
	if err != nil {
		return nil, fmt.Errorf("opening the journal to read: %w", err)
	}
	return &Past{Journal: j}, nil
}

// past asks the daemon for a copy.
func (c *Client) past(ctx context.Context) (*Past, error) {
	var r struct {
		Path string `json:"path"`
	}
	if err := c.ask(ctx, http.MethodPost, "/copy", nil, &r); err != nil {
		return nil, err
	}
	j, err := journal.Open(r.Path, journal.Options{ReadOnly: true})
	if err != nil {
		return nil, fmt.Errorf("opening the daemon's copy: %w", err)
	}
	return &Past{Journal: j, temp: filepath.Dir(r.Path)}, nil
}

// askCopy makes a copy of the journal beside it for a command to read; the command removes it.
func (d *Daemon) askCopy(r *http.Request) (any, error) {
	dir, err := os.MkdirTemp(d.cfg.StateDir, "copy-")
	if err != nil {
		return nil, fmt.Errorf("copying the journal: %w", err)
	}
	path, err := d.journal.Backup(r.Context(), dir, 1)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("copying the journal: %w", err), os.RemoveAll(dir))
	}
	return struct {
		Path string `json:"path"`
	}{path}, nil
}

// Backup asks the daemon for a backup; an empty folder and a nought mean the garden file's.
func (c *Client) Backup(ctx context.Context, folder string, keep int) (string, error) {
	body, err := json.Marshal(backupWish{folder, keep})
	if err != nil {
		return "", err
	}
	var r struct {
		Path string `json:"path"`
	}
	err = c.ask(ctx, http.MethodPost, "/backup", body, &r)
	return r.Path, err
}

type backupWish struct {
	Folder string `json:"folder"`
	Keep   int    `json:"keep"`
}

func (d *Daemon) askBackup(r *http.Request) (any, error) {
	var wish backupWish
	if err := json.NewDecoder(io.LimitReader(r.Body, 4096)).Decode(&wish); err != nil {
		return nil, fmt.Errorf("reading what to back up: %w", err)
	}
	path, err := d.journal.Backup(r.Context(), wish.Folder, wish.Keep)
	return map[string]string{"path": path}, err
}
