package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// SocketPath is where the daemon of a state directory listens for commands.
func SocketPath(stateDir string) string { return filepath.Join(stateDir, "lathwatch.sock") }

// socket opens the door for commands: a Unix socket that the daemon's user and group may use.
func (d *Daemon) socket() (worker, error) {
	path := SocketPath(d.cfg.StateDir)
	if c, err := net.DialTimeout("unix", path, time.Second); err == nil {
		c.Close()
		return worker{}, fmt.Errorf("another daemon answers on %s", path)
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return worker{}, fmt.Errorf("clearing an old socket: %w", err)
	}
	old := syscall.Umask(0o117) // 0660 from the first moment
	ln, err := net.Listen("unix", path)
	syscall.Umask(old)
	if err != nil {
		return worker{}, fmt.Errorf("opening the socket for commands: %w", err)
	}
	srv := &http.Server{Handler: d.commands(), ReadTimeout: 30 * time.Second, MaxHeaderBytes: 8 << 10}
	return worker{name: "socket", run: func(ctx context.Context) error {
		stop := context.AfterFunc(ctx, func() { srv.Close() })
		defer stop()
		if err := srv.Serve(ln); !errors.Is(err, http.ErrServerClosed) {
			return err
		}
		return ctx.Err()
	}}, nil
}

// commands answers what commands ask a running daemon.
func (d *Daemon) commands() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("POST /note", d.answer(d.askNote))
	mux.HandleFunc("GET /state", d.answer(d.askState))
	mux.HandleFunc("GET /health", d.answer(d.askHealth))
	mux.HandleFunc("GET /fares", d.answer(d.askFares))
	mux.HandleFunc("GET /parts", d.answer(d.askParts))
	mux.Handle("GET /metrics", d.metricsPage())
	mux.HandleFunc("GET /probes", d.answer(d.askSurvey))
	mux.HandleFunc("POST /copy", d.answer(d.askCopy))
	mux.HandleFunc("POST /import", d.answer(d.askImport))
	mux.HandleFunc("POST /relearn", d.answer(d.askRelearn))
	mux.HandleFunc("POST /push-test", d.answer(d.askPushTest))
	mux.HandleFunc("POST /backup", d.answer(d.askBackup))
	mux.HandleFunc("GET /review", d.answer(d.askReview))
	mux.HandleFunc("POST /sitter", d.answer(d.askSitter))
	mux.HandleFunc("POST /calendar", d.answer(d.askCalendar))
	mux.HandleFunc("POST /notes", d.answer(d.askNotes))
	return mux
}

func (d *Daemon) answer(ask func(r *http.Request) (any, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := ask(r)
		if err != nil {
			status := http.StatusInternalServerError
			var wrong Wrong
			if errors.As(err, &wrong) {
				status = http.StatusUnprocessableEntity
			}
			w.WriteHeader(status)
			v = reply{Error: err.Error()}
		}
		w.Header().Set("Content-Type", "application/json")
		json.NewEncoder(w).Encode(v)
	}
}

// reply is what a command gets back when there is nothing else to say.
type reply struct {
	Error string `json:"error,omitempty"`
	ID    string `json:"id,omitempty"`
	Say   string `json:"say,omitempty"` // what there is to say to a note that was kept
}

func (d *Daemon) askNote(r *http.Request) (any, error) {
	var n sensors.Note
	if err := json.NewDecoder(io.LimitReader(r.Body, 16<<10)).Decode(&n); err != nil {
		return nil, fmt.Errorf("reading the note: %w", err)
	}
	n, err := d.finish(n)
	if err != nil {
		return nil, Wrong{err}
	}
	return reply{ID: n.ID, Say: ledger.Objection(n)}, d.TakeNote(r.Context(), n)
}

// finish gives a note its time, its strict form and its id.
func (d *Daemon) finish(n sensors.Note) (sensors.Note, error) {
	now := d.cfg.Now().UTC().Truncate(time.Second)
	if n.At.IsZero() {
		n.At = now
	}
	if n.At.After(now.Add(time.Minute)) {
		return n, fmt.Errorf("%s has not come yet", n.At.Format(time.RFC3339))
	}
	if n.Made.IsZero() {
		n.Made = now
	}
	return tape.Checked(n)
}

func (d *Daemon) askState(*http.Request) (any, error) {
	st := d.Standing()
	lines := []json.RawMessage{}
	for i := range st.Pots {
		lines = append(lines, alerts.PotState(st, i))
	}
	for i := range st.Places {
		lines = append(lines, alerts.PlaceState(st, i))
	}
	return lines, nil
}

// Health is what `check` asks a running daemon.
type Health struct {
	Running  bool        `json:"running"`
	Version  string      `json:"version"`
	Sentence string      `json:"sentence"`
	At       time.Time   `json:"at"` // last round
	Probes   int         `json:"probes"`
	Silent   []string    `json:"silent"`
	Trouble  string      `json:"trouble,omitempty"`
	Reach    string      `json:"reach,omitempty"`
	Degraded bool        `json:"degraded"`
	Starts   []StartLine `json:"starts"` // newest first
}

func (d *Daemon) askHealth(r *http.Request) (any, error) {
	st := d.Standing()
	h := Health{Running: true, Version: d.cfg.Version, Sentence: st.Sentence, At: st.At, Probes: len(st.Probes), Trouble: st.Trouble, Reach: st.Reach,
		Degraded: d.degraded.Load(), Silent: []string{}, Starts: d.startLines(r.Context())}
	for i := range st.Probes {
		if p := &st.Probes[i]; p.Silent || p.LastAt.IsZero() || p.Fault != 0 {
			h.Silent = append(h.Silent, string(p.Probe.ID))
		}
	}
	return h, nil
}

// Wrong is an error of what was asked, not of the daemon.
type Wrong struct{ error }

// Unwrap gives the error itself.
func (w Wrong) Unwrap() error { return w.error }

// A Client speaks to the daemon of a state directory.
type Client struct{ http *http.Client }

// ErrNobody says that no daemon answers in a state directory.
var ErrNobody = errors.New("no daemon answers")

// Dial finds the daemon of a state directory; ErrNobody when none answers.
func Dial(stateDir string) (*Client, error) {
	path := SocketPath(stateDir)
	c, err := net.DialTimeout("unix", path, 2*time.Second)
	if err != nil {
		if errors.Is(err, fs.ErrPermission) {
			return nil, fmt.Errorf("speaking to the daemon on %s: %w", path, err)
		}
		return nil, ErrNobody
	}
	c.Close()
	dial := func(ctx context.Context, _, _ string) (net.Conn, error) {
		var nd net.Dialer
		return nd.DialContext(ctx, "unix", path)
	}
	return &Client{&http.Client{Transport: &http.Transport{DialContext: dial}}}, nil
}

// Note hands the daemon a note and gives its id.
func (c *Client) Note(ctx context.Context, n sensors.Note) (string, error) {
	body, err := json.Marshal(n)
	if err != nil {
		return "", err
	}
	var r reply
	err = c.ask(ctx, http.MethodPost, "/note", body, &r)
	return r.ID, err
}

// Health asks how the daemon fares.
func (c *Client) Health(ctx context.Context) (h Health, err error) {
	return h, c.ask(ctx, http.MethodGet, "/health", nil, &h)
}

// State gives the state of every pot and place, one JSON object each.
func (c *Client) State(ctx context.Context) (lines []json.RawMessage, err error) {
	return lines, c.ask(ctx, http.MethodGet, "/state", nil, &lines)
}

func (c *Client) ask(ctx context.Context, method, path string, body []byte, into any) error {
	req, err := http.NewRequestWithContext(ctx, method, "http://lathwatch"+path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return fmt.Errorf("asking the daemon: %w", err)
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		var r reply
		if json.NewDecoder(resp.Body).Decode(&r) == nil && r.Error != "" {
			if resp.StatusCode == http.StatusUnprocessableEntity {
				return Wrong{errors.New(r.Error)}
			}
			return errors.New(r.Error)
		}
		return fmt.Errorf("asking the daemon: status %d", resp.StatusCode)
	}
	return json.NewDecoder(resp.Body).Decode(into)
}
