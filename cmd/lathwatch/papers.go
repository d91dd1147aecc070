package main

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/alecthomas/kong"
)

// papersCmd prints what a package installs beside the program, made from the commands themselves.
type papersCmd struct {
	Which string `arg:"" enum:"man,bash,zsh,fish" help:"The manual page, or completions for a shell."`
}

// Run prints one paper.
func (c *papersCmd) Run(w *world) error {
	all, err := verbs()
	if err != nil {
		return err
	}
	var text string
	switch c.Which {
	case "man":
		text = manPage(all, buildDay(os.Getenv("SOURCE_DATE_EPOCH")))
	case "bash":
		text = bashWords(all)
	case "zsh":
		text = zshWords(all)
	case "fish":
		text = fishWords(all)
	}
	_, err = io.WriteString(w.out, text)
	return err
}

// buildDay is the day a package is made of, "" when nobody says: a paper must not differ from one making to the next.
func buildDay(epoch string) string {
	s, err := strconv.ParseInt(epoch, 10, 64)
	if err != nil {
		return ""
	}
	return time.Unix(s, 0).UTC().Format("2006-01-02")
}

// A verb is a command as papers show it.
type verb struct {
	name, help, example string
	options             []option
	args                []argument
}

// An option is a flag of a command.
type option struct {
	name, help, holder, usual string
	short                     rune
	values                    []string // what it may be; nil: anything
	env                       []string
	path, bare                bool // it is a file or folder; it takes no value
}

// An argument is a word of a command that is no flag.
type argument struct {
	name, help     string
	values         []string
	path, optional bool
}

// verbs lists every command that is not hidden, and last one without a name: what stands before a command.
func verbs() ([]verb, error) {
	var c cli
	p, err := newParser(&c, io.Discard, io.Discard, ownFolder)
	if err != nil {
		return nil, fmt.Errorf("listing the commands: %w", err)
	}
	var all []verb
	for _, n := range p.Model.Children {
		if !n.Hidden {
			all = append(all, verbOf(n))
		}
	}
	return append(all, verbOf(p.Model.Node)), nil
}

func verbOf(n *kong.Node) verb {
	v := verb{name: n.Name}
	if n.Type == kong.ApplicationNode {
		v.name = ""
	}
	v.help, v.example, _ = strings.Cut(n.Help, " Example: ")
	for _, f := range n.Flags {
		if f.Hidden {
			continue
		}
		o := option{name: f.Name, help: f.Help, short: f.Short, env: f.Envs, path: f.Tag.Type == "path", bare: f.IsBool(), usual: f.Default, values: choices(f.Value)}
		if o.holder = strings.ToUpper(f.Name); f.PlaceHolder != "" {
			o.holder = strings.Trim(f.PlaceHolder, "\"")
		}
		v.options = append(v.options, o)
	}
	for _, a := range n.Positional {
		v.args = append(v.args, argument{name: strings.ToUpper(a.Name), help: a.Help, values: choices(a), path: a.Tag.Type == "path", optional: !a.Required})
	}
	return v
}

func choices(v *kong.Value) []string {
	var some []string
	for s := range strings.SplitSeq(v.Enum, ",") {
		if s = strings.TrimSpace(s); s != "" {
			some = append(some, s)
		}
	}
	return some
}

// usage is how a command is written.
func (v verb) usage() string {
	words := []string{"lathwatch", v.name}
	for _, a := range v.args {
		w := a.name
		if a.optional {
			w = "[" + w + "]"
		}
		words = append(words, w)
	}
	if len(v.options) > 0 {
		words = append(words, "[flags]")
	}
	return strings.Join(words, " ")
}
