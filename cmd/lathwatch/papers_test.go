package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

func paper(t *testing.T, which string) string {
	t.Helper()
	var out, errOut bytes.Buffer
	if status := run(t.Context(), []string{"papers", which}, nil, &out, &errOut); status != 0 {
		t.Fatal(status, errOut.String())
	}
	return out.String()
}

// grammar walks the commands as the parser itself knows them.
func grammar(t *testing.T, each func(command *kong.Node)) {
	t.Helper()
	var c cli
	p, err := newParser(&c, io.Discard, io.Discard, ownFolder)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, k := range p.Model.Children {
		if !k.Hidden {
			n++
			each(k)
		}
	}
	if n < 15 {
		t.Fatalf("only %d commands", n)
	}
}

func TestThePapersNameEveryCommandAndFlag(t *testing.T) {
	man := strings.ReplaceAll(paper(t, "man"), `\-`, "-")
	shells := map[string]string{"bash": paper(t, "bash"), "zsh": paper(t, "zsh"), "fish": paper(t, "fish")}
	grammar(t, func(k *kong.Node) {
		_, part, ok := strings.Cut(man, ".SS \"lathwatch "+k.Name)
		if !ok {
			t.Errorf("the manual page does not name %s", k.Name)
		}
		part, _, _ = strings.Cut(part, "\n.SS ")
		for _, f := range k.Flags {
			if named := strings.Contains(part, `\fB--`+f.Name+`\fR`); named == f.Hidden {
				t.Errorf("%s --%s: hidden %v, in the manual page %v", k.Name, f.Name, f.Hidden, named)
			}
		}
		for _, a := range k.Positional {
			if !strings.Contains(part, ".I "+strings.ToUpper(a.Name)+"\n") {
				t.Errorf("the manual page of %s does not name %s", k.Name, a.Name)
			}
		}
		for shell, text := range shells {
			for _, f := range k.Flags {
				word := "--" + f.Name
				if shell == "fish" {
					word = "'__fish_seen_subcommand_from " + k.Name + "' -l " + f.Name
				}
				if !f.Hidden && !strings.Contains(text, word) {
					t.Errorf("%s knows no %s of %s", shell, word, k.Name)
				}
			}
		}
	})
}

// outside gives what a program says, which may be missing only where LATHWATCH_REQUIRE is not 1.
func outside(t *testing.T, stdin, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatalf("%s is not here", name)
		}
		t.Skipf("%s is not here", name)
	}
	cmd := exec.Command(path, args...)
	cmd.Stdin = strings.NewReader(stdin)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Errorf("%s: %v", name, err)
	}
	return string(out)
}

func TestTheManualPageIsCleanRoff(t *testing.T) {
	t.Run("groff", func(t *testing.T) {
		out := outside(t, paper(t, "man"), "groff", "-man", "-ww", "-Tutf8", "-P-c", "-P-b", "-P-o", "-P-u")
		if strings.Contains(out, "warning") || !strings.Contains(out, "--garden=GARDEN") {
			t.Errorf("groff says %.2000s", out)
		}
	})
	t.Run("mandoc", func(t *testing.T) {
		t.Setenv("SOURCE_DATE_EPOCH", "1795586400")
		if out := outside(t, paper(t, "man"), "mandoc", "-T", "lint", "-W", "warning"); out != "" {
			t.Errorf("mandoc says %s", out)
		}
	})
}

// bash itself is asked what it would complete.
func TestBashCompletes(t *testing.T) {
	dir := t.TempDir()
	script := filepath.Join(dir, "lathwatch.bash")
	if err := os.WriteFile(script, []byte(paper(t, "bash")), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "a garden.toml"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		typed string
		want  []string
		not   string
	}{
		{"lathwatch re", []string{"rehearse", "review"}, "run"},
		{"lathwatch ", []string{"begin", "check"}, "papers"},
		{"lathwatch check --j", []string{"--json", "--journal"}, "--once"},
		{"lathwatch run --log ", []string{"json", "text"}, ""},
		{"lathwatch run --log = j", []string{"json"}, "text"},
		{"lathwatch mark D7 dr", []string{"drained-full", "driest-allowed"}, ""},
		{"lathwatch check --garden a", []string{"a garden.toml"}, ""},
		{"lathwatch check --root", []string{"--root"}, ""},
		{"lathwatch run --pat", nil, "--patience"},
		{"lathwatch --v", []string{"--version"}, ""},
	} {
		ask := `source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _lathwatch; printf '%s\n' "${COMPREPLY[@]}"`
		cmd := exec.Command("bash", append([]string{"-c", ask, "bash", script}, strings.Split(c.typed, " ")...)...)
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%q: %v %s", c.typed, err, out)
		}
		got := strings.Split(strings.TrimSpace(string(out)), "\n")
		for _, w := range c.want {
			if !slices.Contains(got, w) {
				t.Errorf("%q: bash offers %q, want %s among them", c.typed, got, w)
			}
		}
		if c.not != "" && slices.Contains(got, c.not) {
			t.Errorf("%q: bash offers %s", c.typed, c.not)
		}
	}
}

func TestAFolderWithAGardenOfItsOwnGoesBeforeTheService(t *testing.T) {
	t.Chdir(t.TempDir())
	if got := usualPlaces(); got["garden"] != "garden.toml" && !there(installedGarden) {
		t.Errorf("no service is installed and the garden is looked for at %s", got["garden"])
	}
	if err := os.Mkdir("state", 0o755); err != nil {
		t.Fatal(err)
	}
	if got := usualPlaces(); got["garden"] != "garden.toml" || got["state"] != "state" {
		t.Errorf("beside a state folder: %v", got)
	}
}
