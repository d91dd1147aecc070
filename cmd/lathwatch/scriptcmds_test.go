package main

import (
	"errors"
	"os/exec"
	"strconv"
	"time"

	"net"

	"github.com/rogpeppe/go-internal/testscript"
)

// status runs a command and asks for one exit status.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command ...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// waitFor waits until a Unix socket answers.
func waitFor(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: wait-for SOCKET")
	}
	for range 200 {
		if c, err := net.Dial("unix", ts.MkAbs(args[0])); err == nil {
			c.Close()
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	ts.Fatalf("nobody answers on %s", args[0])
}
