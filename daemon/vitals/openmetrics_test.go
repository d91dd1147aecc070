package vitals

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The grammar of the OpenMetrics text format, written down once more from its specification (OpenMetrics 1.0.0, "ABNF" and the
// rules of its section "MetricFamily"): label values escape \, " and line feed only; a family's lines stand together, TYPE, UNIT and
// HELP before its samples; a unit is the end of its family's name; a counter's samples end in _total or _created and are never
// negative; a histogram's buckets grow to le="+Inf", which equals its count; the text ends with "# EOF" and a line feed.
var (
	metaLine   = regexp.MustCompile(`^# (TYPE|UNIT|HELP) ([a-zA-Z_:][a-zA-Z0-9_:]*) ?(.*)$`)
	sampleLine = regexp.MustCompile(`^([a-zA-Z_:][a-zA-Z0-9_:]*)(\{(?:[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\n]|\\["\\n])*"(?:,[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\n]|\\["\\n])*")*)?\})? (\S+)(?: ([0-9.+-]+))?$`)
	suffixes   = map[string][]string{"gauge": {""}, "counter": {"_total", "_created"}, "histogram": {"_bucket", "_count", "_sum", "_created"},
		"summary": {"", "_count", "_sum", "_created"}, "info": {"_info"}, "unknown": {""}}
)

// openMetrics checks a text against the grammar and gives every sample by name and labels.
func openMetrics(text string) (map[string]float64, error) {
	if !strings.HasSuffix(text, "\n# EOF\n") || strings.Count("\n"+text, "\n# EOF\n") != 1 {
		return nil, fmt.Errorf("it does not end with # EOF")
	}
	samples, types, closed := map[string]float64{}, map[string]string{}, map[string]bool{}
	family, bare := "", true // of the lines at hand, and whether it has no sample yet
	for n, line := range strings.Split(strings.TrimSuffix(text, "# EOF\n"), "\n") {
		bad := func(say string) error { return fmt.Errorf("line %d: %s: %q", n+1, say, line) }
		if line == "" && n == strings.Count(strings.TrimSuffix(text, "# EOF\n"), "\n") {
			break
		}
		if m := metaLine.FindStringSubmatch(line); m != nil {
			if m[2] != family {
				closed[family] = true
				if family, bare = m[2], true; closed[family] {
					return nil, bad("the family's lines do not stand together")
				}
			}
			switch {
			case !bare:
				return nil, bad("it stands after a sample of its family")
			case m[1] == "TYPE" && suffixes[m[3]] == nil:
				return nil, bad("there is no such type")
			case m[1] == "TYPE":
				types[family] = m[3]
			case m[1] == "UNIT" && m[3] != "" && !strings.HasSuffix(family, "_"+m[3]):
				return nil, bad("the name does not end with its unit")
			}
			continue
		}
		m := sampleLine.FindStringSubmatch(line)
		if m == nil {
			return nil, bad("it is neither a sample nor about a family")
		}
		suffix, ok := strings.CutPrefix(m[1], family)
		if !ok || types[family] == "" || !has(suffixes[types[family]], suffix) {
			return nil, bad("the sample is not of the family " + family + ", a " + types[family])
		}
		v, err := strconv.ParseFloat(m[3], 64)
		if err != nil || types[family] == "counter" && v < 0 {
			return nil, bad("the value")
		}
		if _, twice := samples[m[1]+m[2]]; twice {
			return nil, bad("the sample is given twice")
		}
		samples[m[1]+m[2]], bare = v, false
	}
	return samples, buckets(samples, types)
}

func has(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}

func buckets(samples map[string]float64, types map[string]string) error {
	for name, kind := range types {
		if kind == "histogram" && samples[name+`_bucket{le="+Inf"}`] != samples[name+"_count"] {
			return fmt.Errorf("%s: its last bucket is not its count", name)
		}
	}
	return nil
}

func TestTheGrammarRefusesWhatItShould(t *testing.T) {
	const good = "# TYPE a_seconds gauge\n# UNIT a_seconds seconds\n# HELP a_seconds Of a.\na_seconds{b=\"c\\\"\\n\\\\\"} 1.0\n# TYPE n counter\nn_total 3\n# EOF\n"
	if _, err := openMetrics(good); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string][2]string{
		"no end":                       {"# EOF\n", ""},
		"something after the end":      {"# EOF\n", "# EOF\nx 1\n"},
		"a counter without _total":     {"n_total 3", "n 3"},
		"a negative counter":           {"n_total 3", "n_total -3"},
		"a unit that is no suffix":     {"UNIT a_seconds seconds", "UNIT a_seconds bytes"},
		"a bare quote in a label":      {`c\"`, `c"`},
		"an unknown escape":            {`\\"}`, `\t"}`},
		"the older format's counter":   {"# TYPE n counter", "# TYPE n_total counter"},
		"a family in two places":       {"# EOF\n", "# TYPE a_seconds gauge\na_seconds 2\n# EOF\n"},
		"a sample twice":               {"n_total 3\n", "n_total 3\nn_total 3\n"},
		"help after the sample":        {"n_total 3\n", "n_total 3\n# HELP n Too late.\n"},
		"an empty line":                {"# TYPE n", "\n# TYPE n"},
		"a comment of another kind":    {"# TYPE n", "# whatever\n# TYPE n"},
		"a type nobody knows":          {"a_seconds gauge", "a_seconds dial"},
		"a value that is no number":    {"n_total 3", "n_total three"},
		"a label name with a hyphen":   {"{b=", "{b-b="},
		"a sample of no family":        {"# EOF\n", "z 1\n# EOF\n"},
		"a line feed inside a label":   {`c\"`, "c\n"},
		"two blanks before a value":    {"n_total 3", "n_total  3"},
		"a carriage return at the end": {"n_total 3", "n_total 3\r"},
	} {
		if _, err := openMetrics(strings.Replace(good, change[0], change[1], 1)); err == nil {
			t.Errorf("%s is accepted", name)
		}
	}
}
