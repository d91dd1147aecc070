package main

import (
	"fmt"
	"strings"
)

// zshWords writes a completion for zsh.
func zshWords(all []verb) string {
	var s strings.Builder
	s.WriteString("#compdef lathwatch\n# zsh completion for lathwatch, made from its commands\n_lathwatch() {\n\tlocal -a commands\n\tcommands=(\n")
	for _, v := range all[:len(all)-1] {
		fmt.Fprintf(&s, "\t\t%s\n", zshQuoted(v.name+":"+strings.ReplaceAll(v.help, ":", `\:`)))
	}
	s.WriteString("\t)\n\tif (( CURRENT == 2 )); then\n\t\t_describe command commands\n\t\t_arguments")
	zshOptions(&s, all[len(all)-1])
	s.WriteString("\n\t\treturn\n\tfi\n\tlocal command=$words[2]\n\tshift words\n\t(( CURRENT-- ))\n\tcase $command in\n")
	for _, v := range all[:len(all)-1] {
		fmt.Fprintf(&s, "\t%s) _arguments", v.name)
		zshOptions(&s, v)
		for i, a := range v.args {
			colon := ":"
			if a.optional {
				colon = "::"
			}
			fmt.Fprintf(&s, " \\\n\t\t%s", zshQuoted(fmt.Sprintf("%d%s%s:%s", i+1, colon, strings.ToLower(a.name), zshAction(a.values, a.path))))
		}
		s.WriteString(" ;;\n")
	}
	s.WriteString("\tesac\n}\nif [ \"$funcstack[1]\" = _lathwatch ]; then _lathwatch \"$@\"; else compdef _lathwatch lathwatch; fi\n")
	return s.String()
}

func zshOptions(s *strings.Builder, v verb) {
	for _, o := range v.options {
		spec := "--" + o.name
		if !o.bare {
			spec += "="
		}
		spec += "[" + strings.NewReplacer("[", "(", "]", ")").Replace(o.help) + "]"
		if !o.bare {
			spec += ":" + o.name + ":" + zshAction(o.values, o.path)
		}
		fmt.Fprintf(s, " \\\n\t\t%s", zshQuoted(spec))
	}
}

func zshAction(values []string, path bool) string {
	switch {
	case len(values) > 0:
		return "(" + strings.Join(values, " ") + ")"
	case path:
		return "_files"
	}
	return ""
}

func zshQuoted(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// fishWords writes a completion for fish.
func fishWords(all []verb) string {
	var s strings.Builder
	s.WriteString("# fish completion for lathwatch, made from its commands\ncomplete -c lathwatch -f\n")
	for _, v := range all {
		when := "__fish_use_subcommand"
		if v.name != "" {
			fmt.Fprintf(&s, "complete -c lathwatch -n __fish_use_subcommand -a %s -d %s\n", v.name, fishQuoted(v.help))
			when = "__fish_seen_subcommand_from " + v.name
		}
		for _, o := range v.options {
			fmt.Fprintf(&s, "complete -c lathwatch -n %s -l %s", fishQuoted(when), o.name)
			if o.short != 0 {
				fmt.Fprintf(&s, " -s %c", o.short)
			}
			switch {
			case o.bare:
			case len(o.values) > 0:
				fmt.Fprintf(&s, " -x -a %s", fishQuoted(strings.Join(o.values, " ")))
			case o.path:
				s.WriteString(" -r -F")
			default:
				s.WriteString(" -x")
			}
			fmt.Fprintf(&s, " -d %s\n", fishQuoted(o.help))
		}
		if w := argWords(v); len(w) > 0 {
			fmt.Fprintf(&s, "complete -c lathwatch -n %s -a %s\n", fishQuoted(when), fishQuoted(strings.Join(w, " ")))
		}
		if argPath(v) {
			fmt.Fprintf(&s, "complete -c lathwatch -n %s -F\n", fishQuoted(when))
		}
	}
	return s.String()
}

func fishQuoted(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'"
}
