package checks_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"lathwatch/sensors/checks"
)

func TestAComparisonTakesItsToleranceFromTheFile(t *testing.T) {
	for _, tc := range []struct {
		name          string
		expected, tol string
		got           any
		faults        int
		notComparable bool
	}{
		{name: "a number on the edge passes", expected: `1.5`, tol: `0.1`, got: 1.6},
		{name: "a number past the edge fails", expected: `1.5`, tol: `0.1`, got: 1.601, faults: 1},
		{name: "an integer is a number", expected: `161`, tol: `0`, got: uint8(161)},
		{name: "no number is no number", expected: `1`, tol: `9`, got: nil, faults: 1},
		{name: "null is wanted", expected: `[1, null]`, tol: `0`, got: []any{1, nil}},
		{name: "null is not zero", expected: `[1, null]`, tol: `9`, got: []any{1, 0}, faults: 1},
		{name: "a short list fails", expected: `[1, 2]`, tol: `9`, got: []int{1}, faults: 1},
		{name: "every wrong element is told", expected: `[1, 2, 3]`, tol: `0.1`, got: []int{2, 2, 4}, faults: 2},
		{name: "a tolerance for each element", expected: `[1, 2]`, tol: `[0, 1]`, got: []int{1, 3}},
		{name: "a tolerance for each key", expected: `{"a": 1, "b": 2}`, tol: `{"a": 0, "b": 1}`, got: map[string]int{"a": 1, "b": 3}},
		{name: "a key without one is exact", expected: `{"a": 1, "b": 2}`, tol: `{"b": 1}`, got: map[string]float64{"a": 1.1, "b": 3}, faults: 1},
		{name: "a missing and a foreign key", expected: `{"a": 1}`, tol: `0`, got: map[string]int{"b": 1}, faults: 2},
		{name: "structs by their tags", expected: `{"a": {"b": [1]}}`, tol: `0`, got: struct {
			A struct {
				B []int `json:"b"`
			} `json:"a"`
		}{struct {
			B []int `json:"b"`
		}{[]int{1}}}},
		{name: "text is exact", expected: `"OqZ"`, tol: `0`, got: "Oqz", faults: 1},
		{name: "a bool is exact", expected: `true`, tol: `"exact"`, got: false, faults: 1},
		{name: "exact numbers", expected: `4`, tol: `"exact"`, got: 4.001, faults: 1},
		{name: "within a range", expected: `{"x": [10, 30]}`, tol: `"range"`, got: map[string]int{"x": 30}},
		{name: "outside a range", expected: `{"x": [10, 30]}`, tol: `"range"`, got: map[string]int{"x": 31}, faults: 1},
		{name: "the range itself", expected: `[10, 30]`, tol: `"range"`, got: []int{10, 30}},
		{name: "NaN cannot be compared", expected: `1`, tol: `9`, got: math.NaN(), notComparable: true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := checks.Check{Expected: json.RawMessage(tc.expected), Tol: json.RawMessage(tc.tol)}
			faults, err := c.Compare(tc.got)
			if (err != nil) != tc.notComparable {
				t.Fatalf("error %v", err)
			}
			if len(faults) != tc.faults {
				t.Errorf("got %d faults, expected %d: %q", len(faults), tc.faults, faults)
			}
		})
	}
}

func TestAWrongResultFailsTheTestThatAsks(t *testing.T) {
	r := &recorder{TB: t}
	checks.Is(r, "dd-isu", 10.0)
	if r.failed {
		t.Error("the right figure was refused")
	}
	checks.Is(r, "dd-isu", 10.1)
	if !r.failed {
		t.Error("a wrong figure was let through")
	}
}

func TestDataIsFoundInTheTreeFirst(t *testing.T) {
	t.Setenv("LATHWATCH_DATA", t.TempDir())
	f := checks.Data(t, "newyork_seattle_daily_2012_2015.csv")
	st, err := f.Stat()
	if err != nil || st.Size() == 0 {
		t.Fatalf("stat: %v, %v", st, err)
	}
	if _, err := os.Stat(f.Name()); err != nil {
		t.Error(err)
	}
}

// recorder notes failures instead of failing.
type recorder struct {
	testing.TB
	failed bool
}

func (r *recorder) Errorf(string, ...any) { r.failed = true }
