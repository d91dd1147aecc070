package checks_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lathwatch/sensors/checks"
)

// TestEveryCheckIsHeldByATest reads the test sources of the whole repository: each check must be named, as a literal, in a call
// of checks.Is, or be declined with a reason in the file.
func TestEveryCheckIsHeldByATest(t *testing.T) {
	f, err := checks.Load()
	if err != nil {
		t.Fatal(err)
	}
	root, err := checks.Root()
	if err != nil {
		t.Fatal(err)
	}
	used, err := literalsOfIs(root)
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{}
	for _, c := range f.Checks {
		if known[c.ID] {
			t.Errorf("%s stands in the file twice", c.ID)
		}
		known[c.ID] = true
		reason, declined := f.Declined[c.ID]
		room, awaited := f.Awaited[c.ID]
		switch where := used[c.ID]; {
		case where != "" && declined:
			t.Errorf("%s is declined but held in %s", c.ID, where)
		case where != "" && awaited:
			t.Logf("%s is held in %s: it need not be awaited from %s any more", c.ID, where, room)
		case where != "":
		case declined && len(strings.Fields(reason)) < 4:
			t.Errorf("%s is declined without a reason", c.ID)
		case declined:
			t.Logf("%s is declined: %s", c.ID, reason)
		case awaited:
			t.Logf("%s is awaited from %s", c.ID, room)
		default:
			t.Errorf("no test calls checks.Is(t, %q, ...), and it is not declined", c.ID)
		}
	}
	for _, id := range slices.Concat(slices.Sorted(maps.Keys(used)), slices.Sorted(maps.Keys(f.Declined)), slices.Sorted(maps.Keys(f.Awaited))) {
		if !known[id] {
			t.Errorf("%s is not a check of the file (%s)", id, used[id])
		}
	}
}

func TestEveryCheckNamesItsSourceAndHowItIsKnown(t *testing.T) {
	f, err := checks.Load()
	if err != nil {
		t.Fatal(err)
	}
	hows := []string{"published", "recomputed, published value from memory", "from memory", "own reference"}
	for _, c := range f.Checks {
		if c.Area < 1 || c.Area > 12 || c.Source == "" || !slices.Contains(hows, c.How) {
			t.Errorf("%s: area %d, source %q, how %q", c.ID, c.Area, c.Source, c.How)
		}
		if len(c.Inputs) == 0 || len(c.Expected) == 0 || len(c.Tol) == 0 {
			t.Errorf("%s: a row needs inputs, expected and tol", c.ID)
		}
	}
	if len(f.Checks) < 100 {
		t.Errorf("only %d checks were read", len(f.Checks))
	}
}

// literalsOfIs maps each id given as a literal to checks.Is to the first test file that does so.
func literalsOfIs(root string) (map[string]string, error) {
	used := map[string]string{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != root && strings.HasPrefix(d.Name(), ".") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(root, path)
		ast.Inspect(file, func(n ast.Node) bool {
			if id, ok := idOfIs(n); ok && used[id] == "" && rel != filepath.FromSlash("sensors/checks/compare_test.go") {
				used[id] = rel
			}
			return true
		})
		return nil
	})
	return used, err
}

func idOfIs(n ast.Node) (string, bool) {
	call, ok := n.(*ast.CallExpr)
	if !ok || len(call.Args) != 3 {
		return "", false
	}
	sel, ok := call.Fun.(*ast.SelectorExpr)
	if !ok || sel.Sel.Name != "Is" {
		return "", false
	}
	if pkg, ok := sel.X.(*ast.Ident); !ok || pkg.Name != "checks" {
		return "", false
	}
	lit, ok := call.Args[1].(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	id, err := strconv.Unquote(lit.Value)
	return id, err == nil
}
