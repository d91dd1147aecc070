package drivers

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lathwatch/sensors/checks"
	"lathwatch/sensors/units"
)

func zeroKelvin(t *testing.T) {
	var none answer
	if plausible(answer{raw: -273_150, step: units.Whole(units.Temperature)}).err == nil {
		t.Error("zero kelvin passes")
	}
	if none.step.Unit.Known() {
		t.Error("an answer that was never given has a unit")
	}
	for file, names := range calls(t) {
		for _, bad := range []string{"SenseContinuous", "ReadContinuous"} {
			if slices.Contains(names, bad) {
				t.Errorf("%s uses %s: after an error it delivers -273.15 °C", file, bad)
			}
		}
	}
}

func noHalt(t *testing.T) {
	for file, names := range calls(t) {
		if slices.Contains(names, "Halt") && file != "hdc302x.go" {
			t.Errorf("%s uses Halt, which hangs in most of the library's drivers", file)
		}
	}
}

// calls lists by file the names this package selects from anything.
func calls(t *testing.T) map[string][]string {
	t.Helper()
	names := map[string][]string{}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		src, err := parser.ParseFile(token.NewFileSet(), f, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(src, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				names[f] = append(names[f], sel.Sel.Name)
			}
			return true
		})
	}
	if len(names["hdc302x.go"]) == 0 {
		t.Fatal("no source found")
	}
	return names
}

func noGlobalStart(t *testing.T) {
	root, err := checks.Root()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return errors.Join(err)
		}
		src, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return nil // another room's unfinished file
		}
		seen++
		for _, imp := range src.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			if !strings.HasPrefix(name, "periph.io/x/host") {
				continue
			}
			rel, _ := filepath.Rel(root, path)
			if name != "periph.io/x/host/v3/sysfs" || filepath.Dir(rel) != filepath.Join("sensors", "bus") {
				t.Errorf("%s imports %s: the global start takes pins and can wait for ever, the netlink path has no time limit", rel, name)
			}
		}
		return nil
	})
	if err != nil || seen < 20 {
		t.Errorf("looked at %d files: %v", seen, err)
	}
}
