package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The program's own stories: testdata/scripts, run against the program itself.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"lathwatch": func() {
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
			defer stop()
			os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
		},
	})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/scripts",
		UpdateScripts:       os.Getenv("UPDATE_SCRIPTS") != "",
		RequireExplicitExec: true,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status":   status, // status N command...: exact exit status
			"wait-for": waitFor,
		},
	})
}
