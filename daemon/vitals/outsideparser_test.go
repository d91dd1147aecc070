package vitals

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// A found is what somebody else's parser makes of a text: values by name and labels as they stand in it, types and units by family.
type found struct {
	values       map[string]float64
	types, units map[string]string
}

// readOutside has a text read by the OpenMetrics parser of github.com/prometheus/prometheus (model/textparse), a program that
// collects such figures and no part of this one. It lies in a module of its own, .ci/openmetrics.
func readOutside(t *testing.T, text string) (found, error) {
	t.Helper()
	path, err := exec.LookPath("openmetrics-read")
	if err != nil {
		if os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatal("openmetrics-read is not here: go build -C .ci/openmetrics -o SOMEWHERE/openmetrics-read .")
		}
		t.Skip("openmetrics-read is not here")
	}
	cmd := exec.CommandContext(t.Context(), path)
	cmd.Stdin = strings.NewReader(text)
	out, err := cmd.Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.ExitCode() == 1 {
		return found{}, fmt.Errorf("%s", exit.Stderr)
	}
	if err != nil {
		t.Fatal(err)
	}
	f := found{map[string]float64{}, map[string]string{}, map[string]string{}}
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var line struct {
			What, Name, Say string
			Value           float64
		}
		if err := d.Decode(&line); errors.Is(err, io.EOF) {
			return f, nil
		} else if err != nil {
			t.Fatal(err)
		}
		switch line.What {
		case "type":
			f.types[line.Name] = line.Say
		case "unit":
			f.units[line.Name] = line.Say
		case "sample":
			f.values[line.Name] = line.Value
		}
	}
}

// The figures are read by a parser of other people, and it reads the same in them as the grammar written down here.
func TestAParserOfOtherPeopleReadsTheFigures(t *testing.T) {
	r := ordinary()
	r.Buses[1].Name = "serial \"\\\n/dev/ttyUSB0 °"
	text := scrape(t, r)
	ours, err := openMetrics(text)
	if err != nil {
		t.Fatal(err)
	}
	theirs, err := readOutside(t, text)
	if err != nil {
		t.Fatal(err)
	}
	if len(ours) != len(theirs.values) || len(ours) < 90 {
		t.Errorf("we read %d samples, they read %d", len(ours), len(theirs.values))
	}
	for name, v := range ours {
		if got, ok := theirs.values[name]; !ok || got != v {
			t.Errorf("%s: we read %v, they read %v (%v)", name, v, got, ok)
		}
	}
	for _, f := range families {
		name, want := f.name, "gauge"
		if f.counter {
			name, want = strings.TrimSuffix(f.name, "_total"), "counter" // the end is its samples', not the family's
		}
		if theirs.types[name] != want || theirs.units[name] != f.unit {
			t.Errorf("%s: they read a %s in %q, it is a %s in %q", name, theirs.types[name], theirs.units[name], want, f.unit)
		}
	}
	if theirs.types["lathwatch_journal_commit_seconds"] != "histogram" {
		t.Errorf("the commits are a %s", theirs.types["lathwatch_journal_commit_seconds"])
	}
}

// Their parser refuses what is broken, so that its yes is worth something.
func TestTheParserOfOtherPeopleRefuses(t *testing.T) {
	text := scrape(t, ordinary())
	for name, broken := range map[string]string{
		"cut before its end":         strings.TrimSuffix(text, "# EOF\n"),
		"something after the end":    text + "lathwatch_well 1\n",
		"a value that is no number":  strings.Replace(text, "lathwatch_well 1.0", "lathwatch_well one", 1),
		"a type nobody knows":        strings.Replace(text, "lathwatch_rounds counter", "lathwatch_rounds dial", 1),
		"an open label":              strings.Replace(text, `{bus="w1"}`, `{bus="w1}`, 1),
		"a unit that is no suffix":   strings.Replace(text, "lathwatch_journal_size_bytes bytes", "lathwatch_journal_size_bytes seconds", 1),
		"an empty line in its midst": strings.Replace(text, "# TYPE lathwatch_well", "\n# TYPE lathwatch_well", 1),
	} {
		if broken == text {
			t.Errorf("%s: nothing was changed", name)
		}
		if _, err := readOutside(t, broken); err == nil {
			t.Errorf("%s: it is read", name)
		}
	}
}
