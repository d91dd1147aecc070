package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"lathwatch/daemon/journal"
)

// A crash of the runtime ends with status 2, after which a supervisor must start us anew; a refused garden must not look like one.
func TestARefusedGardenIsToldToASupervisorByAStatusOfItsOwn(t *testing.T) {
	dir, _ := livesIn(t)
	garden := filepath.Join(dir, "broken.toml")
	if err := os.WriteFile(garden, []byte("[site]\nid = \"a b\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		env, what string
		want      int
	}{{"NOTIFY_SOCKET=" + filepath.Join(dir, "nobody"), "run", refusedStatus}, {"NOTIFY_SOCKET=", "run", 2}, {"NOTIFY_SOCKET=x", "check", 2}} {
		cmd := exec.Command(filepath.Join(dir, "lathwatch"), c.what, "--garden", garden, "--state", filepath.Join(dir, "state"))
		cmd.Env = append(os.Environ(), c.env)
		out, _ := cmd.CombinedOutput()
		if got := cmd.ProcessState.ExitCode(); got != c.want || !strings.Contains(string(out), `broken.toml line 2, `) {
			t.Errorf("%s with %s: status %d, want %d\n%s", c.what, c.env, got, c.want, out)
		}
	}
}

func TestRootMakesNoJournalInAServicesFolder(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root can try this")
	}
	dir, _ := livesIn(t)
	state := filepath.Join(dir, "state")
	if err := os.Mkdir(state, 0o750); err != nil {
		t.Fatal(err)
	}
	if err := os.Chown(state, 65533, 65533); err != nil {
		t.Fatal(err)
	}
	there := []string{"--garden", filepath.Join(dir, "garden.toml"), "--state", state}
	for _, args := range [][]string{{"run"}, {"note", "D7", "watered", "150 mL"}, {"backup", "--to", dir}} {
		var out, errOut bytes.Buffer
		if status := run(t.Context(), append(args, there...), nil, &out, &errOut); status != 2 || !strings.Contains(errOut.String(), "sudo -u #65533 lathwatch") {
			t.Errorf("%v: status %d, %s", args, status, errOut.String())
		}
	}
	if left, err := os.ReadDir(state); err != nil || len(left) != 0 {
		t.Errorf("it holds %v (%v)", left, err)
	}
	if err := os.Chown(state, 0, 0); err != nil { // its own it may
		t.Fatal(err)
	}
	j, err := openToWrite(filepath.Join(state, "a.journal"), journal.Options{Ballast: -1})
	if err != nil {
		t.Fatal(err)
	}
	j.Close()
}

func TestWhoMayNotIsToldWhoMay(t *testing.T) {
	denied := func(path string) error {
		return fmt.Errorf("looking: %w", &fs.PathError{Op: "open", Path: path, Err: syscall.EACCES})
	}
	for _, c := range []struct {
		err  error
		want bool
	}{{denied(installedState + "/lathwatch.sock"), true}, {denied("/somewhere/else"), false}, {fmt.Errorf("no room in %s", installedState), false}} {
		var out bytes.Buffer
		if status := report(&out, c.err); status != 1 || strings.Contains(out.String(), "adduser \"$USER\" lathwatch") != c.want {
			t.Errorf("%v: status %d, %s", c.err, status, out.String())
		}
	}
	if s := noDaemon(installedState); !strings.Contains(s, "systemctl status lathwatch") || strings.Contains(noDaemon("state"), "systemctl") {
		t.Error(s)
	}
}
