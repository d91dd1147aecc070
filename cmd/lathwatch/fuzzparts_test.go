package main

import (
	"fmt"
	"go/ast"
	"os/exec"
	"path"
	"slices"
	"strings"
	"testing"
)

// TestEveryFuzzTargetIsInOnePartOfTheLongRuns: the parts of .ci/long, taken together, name each target of the tree once, and none has more
// than fit into eighty minutes at ten minutes each.
func TestEveryFuzzTargetIsInOnePartOfTheLongRuns(t *testing.T) {
	var want []string
	for _, s := range sources(t) {
		for _, d := range s.file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && s.test() && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Fuzz") {
				want = append(want, "== ./"+path.Dir(s.path)+" "+f.Name.Name)
			}
		}
	}
	slices.Sort(want)
	var got []string
	for part := 1; part <= 4; part++ {
		lines := listed(t, fmt.Sprint("fuzz-", part))
		if len(lines) > 7 {
			t.Errorf("part %d has %d targets: make another part", part, len(lines))
		}
		got = append(got, lines...)
	}
	slices.Sort(got)
	if all := listed(t, "fuzz"); len(want) < 20 || !slices.Equal(got, want) || !slices.Equal(slices.Sorted(slices.Values(all)), want) {
		t.Errorf("the parts name\n%s\nthe whole %s\nthe tree has\n%s", strings.Join(got, "\n"), strings.Join(all, "\n"), strings.Join(want, "\n"))
	}
}

func listed(t *testing.T, part string) []string {
	t.Helper()
	out, err := exec.Command(root+"/.ci/long", part, "list").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSpace(string(out)), "\n")
}
