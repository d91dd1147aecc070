package main

import (
	"fmt"
	"strings"
)

// Completions are made from the commands, so that none is forgotten. Hidden commands and flags are left out.

// bashWords writes a completion for bash: commands, flags, what a flag may be, files where a path belongs.
func bashWords(all []verb) string {
	var s strings.Builder
	s.WriteString(bashHead)
	fmt.Fprintf(&s, "\tlocal commands=%q\n\tlocal own=%q\n", strings.Join(names(all), " "), strings.Join(flagWords(all[len(all)-1]), " "))
	s.WriteString(bashMiddle)
	for _, v := range all[:len(all)-1] {
		fmt.Fprintf(&s, "\t%s)\n\t\tflags=%q\n", v.name, strings.Join(flagWords(v), " "))
		if w := argWords(v); len(w) > 0 {
			fmt.Fprintf(&s, "\t\twords=%q\n", strings.Join(w, " "))
		}
		if argPath(v) {
			s.WriteString("\t\tfiles=1\n")
		}
		s.WriteString("\t\tcase $prev in\n")
		for _, o := range v.options {
			switch {
			case o.bare:
			case len(o.values) > 0:
				fmt.Fprintf(&s, "\t\t--%s) COMPREPLY=($(compgen -W %q -- \"$cur\")); return ;;\n", o.name, strings.Join(o.values, " "))
			case o.path:
				fmt.Fprintf(&s, "\t\t--%s) _lathwatch_files \"$cur\"; return ;;\n", o.name)
			default:
				fmt.Fprintf(&s, "\t\t--%s) return ;;\n", o.name)
			}
		}
		s.WriteString("\t\tesac ;;\n")
	}
	s.WriteString(bashFoot)
	return s.String()
}

func names(all []verb) (list []string) {
	for _, v := range all {
		if v.name != "" {
			list = append(list, v.name)
		}
	}
	return list
}

func flagWords(v verb) (list []string) {
	for _, o := range v.options {
		list = append(list, "--"+o.name)
		if o.short != 0 {
			list = append(list, "-"+string(o.short))
		}
	}
	return list
}

func argWords(v verb) (list []string) {
	for _, a := range v.args {
		list = append(list, a.values...)
	}
	return list
}

func argPath(v verb) bool {
	for _, a := range v.args {
		if a.path {
			return true
		}
	}
	return false
}

const bashHead = `# bash completion for lathwatch, made from its commands
_lathwatch_files() {
	local IFS=$'\n'
	compopt -o filenames 2>/dev/null
	COMPREPLY=($(compgen -f -- "$1"))
}
_lathwatch() {
	local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} command= flags= words= files= i
	[ "$cur" = "=" ] && cur=
	if [ "$prev" = "=" ] && [ "$COMP_CWORD" -ge 2 ]; then prev=${COMP_WORDS[COMP_CWORD-2]}; fi
`

const bashMiddle = `	COMPREPLY=()
	for ((i = 1; i < COMP_CWORD; i++)); do
		case ${COMP_WORDS[i]} in -*) ;; *) command=${COMP_WORDS[i]}; break ;; esac
	done
	case $command in
	"")
		COMPREPLY=($(compgen -W "$commands $own" -- "$cur"))
		return ;;
`

const bashFoot = `	esac
	case $cur in
	-*) COMPREPLY=($(compgen -W "$flags $own" -- "$cur")) ;;
	*)
		COMPREPLY=($(compgen -W "$words" -- "$cur"))
		[ -n "$files" ] && _lathwatch_files "$cur" ;;
	esac
	return 0
}
complete -F _lathwatch lathwatch
`
