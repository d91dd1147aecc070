package vitals

import (
	"fmt"
	"math"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"lathwatch/daemon/logbook"
)

// BlankGarden writes a garden file anew with every secret blanked: what may be one is kept only when its key is known to hold none.
// Comments are left out (people comment out old passwords), addresses keep their host, coordinates whole degrees. Lines keep their
// numbers. A text that cannot be read as TOML is left out whole.
func BlankGarden(text string) string {
	var p unstable.Parser
	p.Reset([]byte(text))
	var b strings.Builder
	line, under := 1, []string(nil)
	for p.NextExpression() {
		e := p.Expression()
		key, at := keyOf(e)
		for want := 1 + strings.Count(text[:at], "\n"); line < want; line++ {
			b.WriteByte('\n')
		}
		switch e.Kind {
		case unstable.Table:
			under = key
			fmt.Fprintf(&b, "[%s]", dotted(key))
		case unstable.ArrayTable:
			under = key
			fmt.Fprintf(&b, "[[%s]]", dotted(key))
		case unstable.KeyValue:
			fmt.Fprintf(&b, "%s = %s", dotted(key), blanked(slices.Concat(under, key), e.Value()))
		}
	}
	if p.Error() != nil {
		return "# This file cannot be read as TOML, so nothing of it is shown.\n"
	}
	return b.String() + "\n"
}

// keyOf gives an expression's key and where it begins.
func keyOf(n *unstable.Node) (key []string, at int) {
	at = -1
	for it := n.Key(); it.Next(); {
		if at < 0 {
			at = int(it.Node().Raw.Offset)
		}
		key = append(key, string(it.Node().Data))
	}
	return key, max(at, 0)
}

var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

func dotted(key []string) string {
	parts := make([]string, len(key))
	for i, k := range key {
		if parts[i] = k; !bareKey.MatchString(k) {
			parts[i] = strconv.Quote(k)
		}
	}
	return strings.Join(parts, ".")
}

// blanked renders a value, judged by the whole path of its key.
func blanked(key []string, n *unstable.Node) string {
	switch n.Kind {
	case unstable.String:
		return strconv.Quote(harmless(key, string(n.Data)))
	case unstable.Array:
		var parts []string
		for it := n.Children(); it.Next(); {
			if it.Node().Kind != unstable.Comment {
				parts = append(parts, blanked(key, it.Node()))
			}
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case unstable.InlineTable:
		var parts []string
		for it := n.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				inner, _ := keyOf(it.Node())
				parts = append(parts, dotted(inner)+" = "+blanked(slices.Concat(key, inner), it.Node().Value()))
			}
		}
		return "{" + strings.Join(parts, ", ") + "}"
	}
	if last := key[len(key)-1]; last == "latitude" || last == "longitude" {
		if f, err := strconv.ParseFloat(string(n.Data), 64); err == nil {
			return strconv.Itoa(int(math.Round(f))) + ".0"
		}
	}
	if secretKey.MatchString(strings.Join(key, "\n")) {
		return strconv.Quote(logbook.Blank)
	}
	return string(n.Data)
}

var (
	// secretKey: no value under such a key is shown, whatever it looks like.
	secretKey = regexp.MustCompile(`(?mi)(^|-)(pass.*|secret|token|auth.*|credentials?|phone|user|headers|template|from|to|address|key)$`)
	// openBlocks hold what says where things stand and how they are wired; no secret has its place there.
	openBlocks = []string{"site", "place", "plant", "pot", "probe", "normals", "feed", "rule"}
	// openKeys of other blocks hold none either.
	openKeys = []string{"listen", "hosts", "path", "folder", "bucket", "org", "node", "content-type", "tls", "host", "log", "level"}
	quantity = regexp.MustCompile(`^[-+]?[0-9]+(\.[0-9]+)? ?[^0-9@:/ ]{1,6}$`)
)

// harmless gives a text as it may be shown.
func harmless(key []string, text string) string {
	last := key[len(key)-1]
	switch {
	case strings.HasSuffix(last, "-file"): // where it lies, not what it holds
		return text
	case secretKey.MatchString(strings.Join(key, "\n")):
		return logbook.Blank
	case strings.Contains(text, "://"):
		return hostOnly(text)
	case strings.Contains(text, "@"):
		return logbook.Blank
	case slices.Contains(openBlocks, key[0]), slices.Contains(openKeys, last), quantity.MatchString(text):
		return text
	}
	return logbook.Blank
}

// hostOnly keeps of an address how and where; path, query and whoever signs in may be secret.
func hostOnly(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" {
		return logbook.Blank
	}
	short := u.Scheme + "://" + u.Host
	if u.User != nil || u.RawQuery != "" || u.Fragment != "" || strings.Trim(u.Path, "/") != "" {
		short += "/" + logbook.Blank
	}
	return short
}

// Secrets lists the values of a garden file that no log line and no bundle may show: what stands under secret keys, what signs in
// within addresses, their paths and queries, and what the files named hold, as far as they can be read.
func Secrets(text string) (all []string) {
	var p unstable.Parser
	p.Reset([]byte(text))
	var under []string
	for p.NextExpression() {
		e := p.Expression()
		key, _ := keyOf(e)
		if e.Kind != unstable.KeyValue {
			under = key
			continue
		}
		secretsIn(slices.Concat(under, key), e.Value(), &all)
	}
	return all
}

func secretsIn(key []string, n *unstable.Node, all *[]string) {
	switch n.Kind {
	case unstable.Array:
		for it := n.Children(); it.Next(); {
			secretsIn(key, it.Node(), all)
		}
	case unstable.InlineTable:
		for it := n.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				inner, _ := keyOf(it.Node())
				secretsIn(slices.Concat(key, inner), it.Node().Value(), all)
			}
		}
	case unstable.String:
		value, last := string(n.Data), key[len(key)-1]
		switch {
		case strings.Contains(value, "@") && !strings.Contains(value, "://"): // whom messages go to
			*all = append(*all, value)
		case last == "template" || last == "user": // kept out by their keys; as words they may stand anywhere
		case strings.HasSuffix(last, "-file") && last != "cert-file" && last != "ca-file":
			*all = append(*all, fileSecrets(value)...)
		case secretKey.MatchString(strings.Join(key, "\n")):
			*all = append(*all, value)
		case strings.Contains(value, "://"):
			*all = append(*all, addressSecrets(value)...)
		}
	}
}

func fileSecrets(path string) (all []string) {
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	defer f.Close()
	b := make([]byte, 64<<10)
	n, _ := f.Read(b)
	for l := range strings.Lines(string(b[:n])) {
		if l = strings.TrimSpace(l); l != "" && !strings.HasPrefix(l, "-----") {
			all = append(all, l)
		}
	}
	return all
}

func addressSecrets(text string) (all []string) {
	u, err := url.Parse(text)
	if err != nil {
		return []string{text}
	}
	if u.User != nil {
		pass, _ := u.User.Password()
		all = append(all, u.User.String(), u.User.Username(), pass)
	}
	for _, vs := range u.Query() {
		all = append(all, vs...)
	}
	if u.RawQuery != "" {
		all = append(all, u.RawQuery)
	}
	for part := range strings.SplitSeq(u.Path, "/") {
		if len(part) >= 12 { // long enough to be a key and no word of a way
			all = append(all, part)
		}
	}
	slices.Sort(all) // a query is a map
	return all
}
