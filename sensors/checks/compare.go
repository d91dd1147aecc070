package checks

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
)

// slack absorbs binary rounding where a printed figure lies exactly on the edge of its tolerance.
const slack = 1e-12

// Compare lists where got differs from what the check expects; an empty list is agreement. The error speaks of a got or a row
// that cannot be compared at all.
func (c Check) Compare(got any) ([]string, error) {
	g, err := normal(got)
	if err != nil {
		return nil, fmt.Errorf("the result is not comparable: %w", err)
	}
	var want, tol any
	if err := json.Unmarshal(c.Expected, &want); err != nil {
		return nil, fmt.Errorf("reading what is expected: %w", err)
	}
	if err := json.Unmarshal(c.Tol, &tol); err != nil {
		return nil, fmt.Errorf("reading the tolerance: %w", err)
	}
	return compare("", want, g, tol), nil
}

func normal(v any) (any, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	var n any
	err = json.Unmarshal(b, &n)
	return n, err
}

func compare(at string, want, got, tol any) []string {
	switch w := want.(type) {
	case map[string]any:
		return compareMap(at, w, got, tol)
	case []any:
		if g, ok := got.(float64); ok && tol == "range" {
			return compareRange(at, w, g)
		}
		return compareSlice(at, w, got, tol)
	case float64:
		return compareNumber(at, w, got, tol)
	}
	if want != got {
		return []string{fmt.Sprintf("%sgot %v, expected %v", label(at), got, want)}
	}
	return nil
}

func compareMap(at string, want map[string]any, got, tol any) []string {
	g, ok := got.(map[string]any)
	if !ok {
		return []string{fmt.Sprintf("%sgot %v, expected named values", label(at), got)}
	}
	var faults []string
	perKey, keyed := tol.(map[string]any)
	for _, k := range slices.Sorted(maps.Keys(want)) {
		v, ok := g[k]
		if !ok {
			faults = append(faults, fmt.Sprintf("%s is missing", join(at, k)))
			continue
		}
		t := tol
		if keyed {
			t = perKey[k]
		}
		faults = append(faults, compare(join(at, k), want[k], v, t)...)
	}
	for _, k := range slices.Sorted(maps.Keys(g)) {
		if _, ok := want[k]; !ok {
			faults = append(faults, fmt.Sprintf("%s is not a value of this check", join(at, k)))
		}
	}
	return faults
}

func compareSlice(at string, want []any, got, tol any) []string {
	g, ok := got.([]any)
	if !ok || len(g) != len(want) {
		return []string{fmt.Sprintf("%sgot %v, expected %d values", label(at), got, len(want))}
	}
	each, listed := tol.([]any)
	var faults []string
	for i := range want {
		t := tol
		if listed && i < len(each) {
			t = each[i]
		}
		faults = append(faults, compare(fmt.Sprintf("%s[%d]", at, i), want[i], g[i], t)...)
	}
	return faults
}

// compareRange takes a pair [low, high] as the bounds of one number, both included.
func compareRange(at string, pair []any, got float64) []string {
	if len(pair) == 2 {
		low, ok1 := pair[0].(float64)
		high, ok2 := pair[1].(float64)
		if ok1 && ok2 && min(low, high) <= got && got <= max(low, high) {
			return nil
		}
	}
	return []string{fmt.Sprintf("%sgot %v, expected it within %v", label(at), got, pair)}
}

func compareNumber(at string, want float64, got, tol any) []string {
	within, _ := tol.(float64) // words such as "exact" mean no tolerance
	g, ok := got.(float64)
	if !ok || math.IsNaN(g) || math.Abs(g-want) > within+slack*max(1, math.Abs(want)) {
		return []string{fmt.Sprintf("%sgot %v, expected %v within %v", label(at), got, want, within)}
	}
	return nil
}

func join(at, key string) string {
	if at == "" {
		return key
	}
	return at + "." + key
}

func label(at string) string {
	if at == "" {
		return ""
	}
	return at + ": "
}
