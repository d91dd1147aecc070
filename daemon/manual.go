package daemon

import (
	"fmt"
	"strings"

	"lathwatch/alerts/push"
	"lathwatch/alerts/rules"
	"lathwatch/daemon/config"
)

// Manual lists every key a garden file may have: the commented reference, each driver's block, each rule's settings, each way out.
func Manual() string {
	var b strings.Builder
	b.WriteString(config.Manual())
	b.WriteString("\n# Rules and their settings.\n")
	for _, r := range rules.All() {
		fmt.Fprintf(&b, "\n# %s\n%s", r.Doc, r.Example)
	}
	b.WriteString("\n# Ways out and their keys.\n")
	for _, w := range push.All() {
		fmt.Fprintf(&b, "\n# %s\n[push.%s]\n%s", w.Doc, w.Name, w.Example)
	}
	b.WriteString("\n# Forwarding to a time-series server.\n\n[influx]\nurl = \"http://127.0.0.1:8086\"\nbucket = \"garden\"\ntoken-file = \"/etc/lathwatch/influx.token\"\n#org, node, keep, resend, every\n")
	return b.String()
}
