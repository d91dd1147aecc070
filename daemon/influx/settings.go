package influx

import (
	"fmt"
	"net/url"
	"strings"
	"time"

	"lathwatch/alerts/push"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// Settings are the keys of the garden file's [influx] block.
type Settings struct {
	URL       string     `toml:"url" help:"the server's address, like http://127.0.0.1:8086"`
	Bucket    string     `toml:"bucket" help:"of version 1.8: \"database/retention policy\" or \"database\""`
	Org       string     `toml:"org" help:"version 2 only"`
	Token     string     `toml:"token" help:"of version 1.8: \"user:password\"; better in a file"`
	TokenFile string     `toml:"token-file" help:"a file with the token on its first line"`
	Node      string     `toml:"node" help:"tag of every point; the site's id when not given"`
	Keep      units.Span `toml:"keep" help:"the server's retention: older readings are not sent; 0 is for ever"`
	Resend    units.Span `toml:"resend" help:"after trouble go back this far, for servers that acknowledge before they store; 0 not"`
	Every     units.Span `toml:"every" help:"how often new rounds are looked for"`
}

// Example is an [influx] block's keys that pass.
const Example = "url = \"http://127.0.0.1:8086\"\nbucket = \"garden\"\ntoken-file = \"/etc/lathwatch/influx.token\"\n"

const defaultEvery = 10 * time.Second

// Read decodes the [influx] block strictly. site is the node's name where the block gives none.
func Read(raw table.Raw, site string) (Settings, error) {
	s := Settings{Node: site, Every: units.Span(defaultEvery)}
	if err := table.Decode(raw, &s); err != nil {
		return s, err
	}
	u, err := url.Parse(s.URL)
	switch {
	case s.URL == "":
		return s, raw.Errorf("url", "the server's address is missing: write url = \"http://127.0.0.1:8086\"")
	case err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https":
		return s, raw.Errorf("url", "%q is not a server's address: write it like \"http://127.0.0.1:8086\"", s.URL)
	case s.Bucket == "":
		return s, raw.Errorf("bucket", "the bucket is missing: write bucket = \"garden\", or \"database/policy\" for version 1.8")
	case s.Token != "" && s.TokenFile != "":
		return s, raw.Errorf("token", "there are both token and token-file: write one of them")
	case !safe(s.Node):
		return s, raw.Errorf("node", "%q is not a node's id: use a to z, 0 to 9 and hyphens", s.Node)
	case s.Every.Duration() < time.Second:
		return s, raw.Errorf("every", "%v is too often: write every = \"10 s\" or more", s.Every)
	}
	return s, nil
}

// Ready reports why the token cannot be had, if it cannot: a file that is missing, or that others can read.
func (s *Settings) Ready() error {
	_, err := s.token()
	return err
}

// token reads the file, when there is one, each time: a token may be changed while the daemon runs.
func (s *Settings) token() (string, error) {
	if s.TokenFile == "" {
		return s.Token, nil
	}
	b, err := push.Secret(s.TokenFile)
	if err != nil {
		return "", fmt.Errorf("reading the server's token: %w", err)
	}
	first, _, _ := strings.Cut(b, "\n")
	return strings.TrimSpace(first), nil
}

func safe(id string) bool {
	return id != "" && strings.Trim(id, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}
