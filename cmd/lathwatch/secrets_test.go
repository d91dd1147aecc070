package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// No password, token, address or passphrase of a garden is in any log line at debug level, nor in any byte of a bundle, packed or not.
func TestNoSecretLeavesTheBoard(t *testing.T) {
	dir := t.TempDir()
	g := startGuarded(t, dir)
	state := filepath.Join(dir, "state")
	made := g.busy(t, state)
	for range 400 { // a round on a line that does not answer, and what the forwarder and the broker's client say
		if strings.Contains(g.log.String(), "influx") && strings.Contains(g.log.String(), "broker") {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if log := g.log.String(); !strings.Contains(log, "influx") || !strings.Contains(log, "broker") || !strings.Contains(log, "TLS handshake") {
		t.Errorf("nothing failed, so nothing was tried:\n%s", g.log.String())
	}
	forbidden := append(made, "CANARY", "51.98", "14.23", "Q0FOQVJ") // the last is base64
	without(t, "the log", g.log.String(), forbidden)
	for _, running := range []bool{true, false} {
		args := []string{"check", "--bundle", filepath.Join(dir, fmt.Sprint(running, ".tar.gz")), "--garden", filepath.Join(dir, "garden.toml"), "--root", dir, "--state"}
		if running {
			args = append(args, state, "--readings")
		} else {
			args = append(args, filepath.Join(dir, "nowhere"))
		}
		var out, errOut bytes.Buffer
		if status := run(t.Context(), args, nil, &out, &errOut); status != 0 {
			t.Fatalf("%v: status %d, %s", args, status, errOut.String())
		}
		without(t, "what is printed", out.String()+errOut.String(), forbidden)
		looked := inBundle(t, args[2], forbidden)
		if running && (looked["live.txt"] == 0 || looked["metrics.txt"] == 0 || looked["log.txt"] == 0 || looked["garden.toml"] == 0) {
			t.Errorf("the bundle holds %v", looked)
		}
	}
}

func without(t *testing.T, what, text string, forbidden []string) {
	t.Helper()
	for _, f := range forbidden {
		if i := strings.Index(text, f); i >= 0 {
			t.Errorf("%s holds %q: ...%s", what, f, text[max(0, i-200):min(len(text), i+200)])
		}
	}
}

// inBundle looks for what is forbidden in the packed bytes, the unpacked ones and each file, and gives the files' sizes.
func inBundle(t *testing.T, path string, forbidden []string) map[string]int {
	t.Helper()
	packed, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if fi, err := os.Stat(path); err != nil || fi.Mode().Perm() != 0o600 {
		t.Errorf("others can read the bundle: %v", fi.Mode())
	}
	without(t, "the packed bundle", string(packed), forbidden)
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	whole, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	without(t, "the bundle", string(whole), forbidden)
	sizes := map[string]int{}
	tr := tar.NewReader(bytes.NewReader(whole))
	for {
		h, err := tr.Next()
		if err == io.EOF {
			return sizes
		}
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(tr)
		if err != nil {
			t.Fatal(err)
		}
		sizes[filepath.Base(h.Name)] = len(b)
	}
}
