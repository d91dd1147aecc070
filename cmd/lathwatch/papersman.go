package main

import (
	"fmt"
	"strings"
)

// manPage writes the manual page in the language of man(7).
func manPage(all []verb, day string) string {
	var s strings.Builder
	fmt.Fprintf(&s, ".TH LATHWATCH 1 \"%s\" \"lathwatch %s\" \"User commands\"\n", day, roff(buildVersion()))
	s.WriteString(manHead)
	s.WriteString(".SH COMMANDS\n")
	for _, v := range all {
		if v.name == "" {
			s.WriteString(".SH FLAGS OF EVERY COMMAND\n")
		} else {
			fmt.Fprintf(&s, ".SS \"%s\"\n%s\n", roff(v.usage()), paragraph(v.help))
		}
		for _, a := range v.args {
			fmt.Fprintf(&s, ".TP\n.I %s\n%s\n", roff(a.name), paragraph(a.help))
		}
		for _, o := range v.options {
			manOption(&s, o)
		}
		if v.example != "" {
			fmt.Fprintf(&s, ".PP\nExample:\n.PP\n.RS 4\n.nf\n%s\n.fi\n.RE\n", roff(v.example))
		}
	}
	s.WriteString(manFoot)
	return s.String()
}

func manOption(s *strings.Builder, o option) {
	head := "\\fB\\-\\-" + roff(o.name) + "\\fR"
	if o.short != 0 {
		head = "\\fB\\-" + roff(string(o.short)) + "\\fR, " + head
	}
	if !o.bare {
		head += "=\\fI" + roff(o.holder) + "\\fR"
	}
	text := o.help
	if len(o.values) > 0 {
		text += " One of: " + strings.Join(o.values, ", ") + "."
	}
	if o.usual != "" && !o.bare {
		text += " Usual: " + o.usual + "."
	}
	for _, e := range o.env {
		text += " Also from the environment: " + e + "."
	}
	fmt.Fprintf(s, ".TP\n%s\n%s\n", head, paragraph(text))
}

// paragraph is a text as roff has it, a sentence a line.
func paragraph(text string) string {
	return strings.ReplaceAll(roff(strings.TrimSpace(text)), ". ", ".\n")
}

var roffEscapes = strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`, "°", `\(de`, "−", `\(mi`, "\"", `\(dq`, "’", `\(cq`)

// roff escapes a text; a line never begins with a request.
func roff(text string) string {
	text = roffEscapes.Replace(text)
	if strings.HasPrefix(text, ".") {
		text = `\&` + text
	}
	return text
}

const manHead = `.SH NAME
lathwatch \- watches over hardy orchids in pots and speaks when there is something to do
.SH SYNOPSIS
.B lathwatch
.I command
[\fIflags\fR]
.SH DESCRIPTION
Reads moisture and temperature probes in pots under a shelter and by a shaded wall, keeps every reading,
works out what it means for each pot, and sends a message when a pot wants water, when warmth risks early growth,
or when frost threatens opened shoots.
On most days the right message is none.
.PP
It advises.
It is never the only protection for plants, heaters, pumps or people.
`

const manFoot = `.SH EXIT STATUS
.TP
.B 0
all is well
.TP
.B 1
a fault was found, or the command could not do its work
.TP
.B 2
it was called wrongly, or the garden file is refused
.TP
.B 78
.B run
under a supervisor: the garden file is refused, and starting again will not mend it
.SH FILES
Where a folder holds neither \fIgarden.toml\fR nor \fIstate\fR, the installed service's are meant:
.TP
.I /etc/lathwatch/garden.toml
what exists in the garden; never written by the program
.TP
.I /etc/lathwatch/secrets
passwords, a file each, readable by the service alone
.TP
.I /var/lib/lathwatch/lathwatch.journal
everything on record; beside it its log, its backups and the socket for commands
.TP
.I /var/lib/lathwatch/last\-words.old
what the program said when it failed last
.PP
What lies there is for the user and the group lathwatch.
Who belongs to the group may use every command beside the running service.
.SH ENVIRONMENT
.TP
.B NOTIFY_SOCKET\fR, \fBWATCHDOG_USEC
where a supervisor listens, and how often it wants a sign of life
.SH SEE ALSO
.BR systemctl (1),
.BR journalctl (1)
.PP
.B lathwatch manual
prints pages to read on the board.
`
