package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// These tests hold the house rules.

// rooms from left to right: a room may import itself and any room to its left, never one to its right.
var rooms = []string{"sensors", "alerts", "dashboards", "daemon", "cmd"}

const root = "../.."

type source struct {
	path string // from the root, slashes
	file *ast.File
	fset *token.FileSet
}

func (s source) dir() string  { return filepath.ToSlash(filepath.Dir(s.path)) }
func (s source) test() bool   { return strings.HasSuffix(s.path, "_test.go") }
func (s source) room() string { r, _, _ := strings.Cut(s.path, "/"); return r }

func sources(t *testing.T) (all []source) {
	t.Helper()
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && path != root || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") {
			return nil
		}
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, path, nil, parser.ParseComments)
		rel, _ := filepath.Rel(root, path)
		all = append(all, source{filepath.ToSlash(rel), f, fset})
		return err
	})
	if err != nil || len(all) < 50 {
		t.Fatal(len(all), err)
	}
	return all
}

func imports(s source) (paths []string) {
	for _, i := range s.file.Imports {
		p, _ := strconv.Unquote(i.Path.Value)
		paths = append(paths, p)
	}
	return paths
}

func TestARoomImportsOnlyItselfAndRoomsToItsLeft(t *testing.T) {
	for _, s := range sources(t) {
		at := slices.Index(rooms, s.room())
		if at < 0 {
			t.Errorf("%s lies in no room", s.path)
			continue
		}
		for _, p := range imports(s) {
			other, ours := strings.CutPrefix(p, "lathwatch/")
			room, _, _ := strings.Cut(other, "/")
			if ours && slices.Index(rooms, room) > at {
				t.Errorf("%s imports %s, a room to its right", s.path, p)
			}
		}
	}
}

func TestEveryPackageHasOneComment(t *testing.T) {
	said := map[string][]string{}
	var dirs []string
	for _, s := range sources(t) {
		if s.test() {
			continue
		}
		if !slices.Contains(dirs, s.dir()) {
			dirs = append(dirs, s.dir())
		}
		if s.file.Doc != nil {
			said[s.dir()] = append(said[s.dir()], s.path)
		}
	}
	for _, d := range dirs {
		if len(said[d]) != 1 {
			t.Errorf("%s has %d package comments %v, want one", d, len(said[d]), said[d])
		}
	}
}

// timeless rooms are told the time and never ask for it or wait for it.
var timeless = []string{"sensors", "sensors/units", "sensors/garden", "sensors/table", "sensors/tape", "sensors/model", "sensors/indices",
	"alerts", "alerts/rules", "dashboards/curve"}

func TestTheClockIsAskedOnlyWhereItMayBe(t *testing.T) {
	forbidden := []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "NewTimer", "NewTicker", "Tick"}
	seen := map[string]bool{}
	for _, s := range sources(t) {
		if s.test() || !slices.Contains(timeless, s.dir()) {
			continue
		}
		seen[s.dir()] = true
		ast.Inspect(s.file, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && x.Obj == nil && slices.Contains(forbidden, sel.Sel.Name) {
				t.Errorf("%s: time.%s in a room that is told the time", s.fset.Position(n.Pos()), sel.Sel.Name)
			}
			return true
		})
	}
	for _, d := range timeless {
		if !seen[d] {
			t.Errorf("the rule names %s, which is not there", d)
		}
	}
}

func TestImportsThatOnlyOneRoomMayHave(t *testing.T) {
	only := []struct {
		prefix string
		dirs   []string
		why    string
	}{
		{"periph.io/x/host/v3/sysfs", []string{"sensors/bus"}, "one room opens the board's buses"},
		{"modernc.org/sqlite", []string{"daemon/journal"}, "one room holds the store"},
		{"github.com/mochi-mqtt/server", []string{"alerts/broker", "alerts/push"}, "one room holds the broker"},
		{"github.com/influxdata", []string{"daemon/influx"}, "one room forwards"},
	}
	never := []string{"periph.io/x/host/v3/netlink", "periph.io/x/host/v3/bcm283x", "C", "unsafe"}
	for _, s := range sources(t) {
		for _, p := range imports(s) {
			for _, o := range only {
				if strings.HasPrefix(p, o.prefix) && !slices.Contains(o.dirs, s.dir()) && !s.test() {
					t.Errorf("%s imports %s: %s", s.path, p, o.why)
				}
			}
			if strings.HasPrefix(p, "periph.io/x/host") && p != "periph.io/x/host/v3/sysfs" || slices.Contains(never, p) && !s.test() {
				t.Errorf("%s imports %s, which nobody may", s.path, p)
			}
			if p == "os/exec" && !s.test() {
				t.Errorf("%s starts other programs", s.path)
			}
		}
	}
}

func TestTheTopLevelHoldsNothingElse(t *testing.T) {
	allowed := append([]string{"testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", ".ci", ".git", ".gitignore", "LICENSE"}, rooms...)
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	ignored, err := os.ReadFile(filepath.Join(root, ".gitignore"))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(ignored)) { // what programs make there is no part of the repository
		if name, ok := strings.CutPrefix(strings.TrimSpace(line), "/"); ok {
			allowed = append(allowed, strings.TrimSuffix(name, "/"))
		}
	}
	for _, e := range entries {
		if !slices.Contains(allowed, e.Name()) {
			t.Errorf("%s lies at the top level", e.Name())
		}
	}
}

func TestTheModuleReplacesNothing(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(root, "go.mod"))
	if err != nil {
		t.Fatal(err)
	}
	for n, line := range strings.Split(string(b), "\n") {
		if strings.HasPrefix(strings.TrimSpace(line), "replace") {
			t.Error(fmt.Sprintf("go.mod line %d", n+1), line)
		}
	}
}

func TestMainIsShort(t *testing.T) {
	b, err := os.ReadFile("main.go")
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(b), "\n"); n > 40 {
		t.Errorf("main.go has %d lines", n)
	}
}
