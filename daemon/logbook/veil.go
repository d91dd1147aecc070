package logbook

import (
	"encoding/base64"
	"encoding/json"
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// Blank stands where a secret stood.
const Blank = "[blanked]"

// shortest is the least length of a secret that is blanked wherever it stands: shorter ones would tear ordinary words. They are
// kept out by their keys instead.
const shortest = 6

// A Veil blanks secrets in text. The zero Veil blanks nothing.
type Veil struct{ r *strings.Replacer }

// NewVeil takes the secrets' values. Each is also blanked as it looks in an address, in JSON and in base64.
func NewVeil(secrets []string) Veil {
	var all []string
	for _, s := range secrets {
		if s = strings.TrimSpace(s); len(s) < shortest {
			continue
		}
		quoted, _ := json.Marshal(s)
		forms := []string{s, url.QueryEscape(s), url.PathEscape(s), string(quoted[1 : len(quoted)-1]), inQuotes(strconv.Quote(s)), inQuotes(strconv.QuoteToASCII(s)),
			base64.StdEncoding.EncodeToString([]byte(s)), base64.RawStdEncoding.EncodeToString([]byte(s)), base64.RawURLEncoding.EncodeToString([]byte(s))}
		for _, form := range forms {
			if !slices.Contains(all, form) {
				all = append(all, form)
			}
		}
	}
	if len(all) == 0 {
		return Veil{}
	}
	slices.SortStableFunc(all, func(a, b string) int { return len(b) - len(a) }) // the whole before its part
	pairs := make([]string, 0, 2*len(all))
	for _, s := range all {
		pairs = append(pairs, s, Blank)
	}
	return Veil{strings.NewReplacer(pairs...)}
}

func inQuotes(s string) string { return s[1 : len(s)-1] }

// Over gives the text with secrets blanked.
func (v Veil) Over(text string) string {
	if v.r == nil {
		return text
	}
	return v.r.Replace(text)
}
