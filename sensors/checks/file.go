package checks

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
)

// A Check is one row of testdata/checks.json.
type Check struct {
	ID       string          `json:"id"`
	Area     int             `json:"area"`
	Source   string          `json:"source"`
	Inputs   json.RawMessage `json:"inputs"`
	Expected json.RawMessage `json:"expected"`
	Tol      json.RawMessage `json:"tol"`
	How      string          `json:"how"`
	Note     string          `json:"note"`
}

// A File is testdata/checks.json: the checks, those declined with the reason, and those another package has still to take up.
type File struct {
	Checks   []Check           `json:"checks"`
	Declined map[string]string `json:"declined"`
	Awaited  map[string]string `json:"awaited"`
}

// Load reads testdata/checks.json of the module the working directory lies in, once a process.
var Load = sync.OnceValues(func() (File, error) {
	root, err := Root()
	if err != nil {
		return File{}, err
	}
	b, err := os.ReadFile(filepath.Join(root, "testdata", "checks.json"))
	if err != nil {
		return File{}, fmt.Errorf("reading the check values: %w", err)
	}
	var f File
	if err := json.Unmarshal(b, &f); err != nil {
		return File{}, fmt.Errorf("reading testdata/checks.json: %w", err)
	}
	return f, nil
})

// Root is the folder of the module's go.mod, found upwards from the working directory.
func Root() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", fmt.Errorf("finding the module: %w", err)
	}
	for {
		_, err := os.Stat(filepath.Join(dir, "go.mod"))
		if err == nil {
			return dir, nil
		}
		up := filepath.Dir(dir)
		if up == dir || !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("finding the module: no go.mod above the working directory: %w", err)
		}
		dir = up
	}
}

func find(id string) (Check, error) {
	f, err := Load()
	if err != nil {
		return Check{}, err
	}
	for _, c := range f.Checks {
		if c.ID == id {
			return c, nil
		}
	}
	return Check{}, fmt.Errorf("no check is called %q", id)
}
