package checks

import (
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// Is fails the test unless got agrees with the check of that id. got may be a number, text, bool, nil, slice, map or struct; it
// is compared after a passage through JSON, so names of map keys and struct tags must be those of the file. The house test
// finds ids by their literals, so pass id as one.
func Is(t testing.TB, id string, got any) {
	t.Helper()
	c, err := find(id)
	if err != nil {
		t.Fatal(err)
	}
	faults, err := c.Compare(got)
	if err != nil {
		t.Fatalf("%s: %v", id, err)
	}
	for _, f := range faults {
		t.Errorf("%s: %s (%s; %s)", id, f, c.How, c.Source)
	}
}

// Some is Is for a result that has only some of the check's keys, for a second way to the same figures. It does not count as
// holding the check.
func Some(t testing.TB, id string, got map[string]any) {
	t.Helper()
	c, err := find(id)
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]json.RawMessage
	if err := json.Unmarshal(c.Expected, &want); err != nil {
		t.Fatalf("%s: what is expected has no keys: %v", id, err)
	}
	for key := range want {
		if _, ok := got[key]; !ok {
			delete(want, key)
		}
	}
	if c.Expected, err = json.Marshal(want); err != nil || len(want) != len(got) {
		t.Fatalf("%s: %d of %d keys are known (%v)", id, len(want), len(got), err)
	}
	faults, err := c.Compare(got)
	if err != nil {
		t.Fatalf("%s: %v", id, err)
	}
	for _, f := range faults {
		t.Errorf("%s: %s (%s; %s)", id, f, c.How, c.Source)
	}
}

// Input decodes the inputs of a check into dst.
func Input(t testing.TB, id string, dst any) {
	t.Helper()
	c, err := find(id)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(c.Inputs, dst); err != nil {
		t.Fatalf("%s: decoding its inputs: %v", id, err)
	}
}

// Data opens a file of open data: the committed one of testdata/data, else the one in the folder named by LATHWATCH_DATA. A
// missing file skips the test, or fails it when LATHWATCH_REQUIRE is 1. The file is closed when the test ends.
func Data(t testing.TB, name string) *os.File {
	t.Helper()
	root, err := Root()
	if err != nil {
		t.Fatal(err)
	}
	tries := []string{filepath.Join(root, "testdata", "data", name)}
	if dir := os.Getenv("LATHWATCH_DATA"); dir != "" {
		tries = append(tries, filepath.Join(dir, name))
	}
	err = fs.ErrNotExist
	for _, path := range tries {
		f, openErr := os.Open(path)
		if openErr == nil {
			t.Cleanup(func() { f.Close() })
			return f
		}
		err = openErr
	}
	if os.Getenv("LATHWATCH_REQUIRE") == "1" {
		t.Fatalf("open data is required here: %v", err)
	}
	t.Skipf("left out: %s is not here (name its folder in LATHWATCH_DATA)", name)
	return nil
}
