package dashboards

import (
	"net/http"
	"strings"
	"testing"

	"lathwatch/sensors/garden"
)

const scrapeToken = "a-token-nobody-types"

func withFigures(c *Config) {
	c.Metrics = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.Write([]byte("figures\n# EOF\n")) })
	c.Health = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.Write([]byte("walker: well\n")) })
}

// Figures never leak to the network: not with open reading, not behind another server, not to a wrong token.
func TestWhoMayReadTheFigures(t *testing.T) {
	bearer := func(token string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token) }
	}
	token := func(c *Config) { withFigures(c); c.ScrapeToken = scrapeToken }
	for _, c := range []struct {
		name   string
		change func(*Config)
		who    func(*http.Request)
		want   int
	}{
		{"loopback alone", withFigures, nil, 200},
		{"loopback, forwarded", withFigures, func(r *http.Request) { r.Header.Set("X-Forwarded-For", "203.0.113.9") }, 403},
		{"loopback with a token, none shown", token, nil, 401},
		{"loopback with a token", token, bearer(scrapeToken), 200},
		{"passphrase, stranger", func(c *Config) { withFigures(c); withPhrase(c) }, nil, 401},
		{"open reading, stranger", func(c *Config) { withFigures(c); withPhrase(c); c.Page.OpenReading = true }, nil, 401},
		{"passphrase, empty token shown", func(c *Config) { withFigures(c); withPhrase(c) }, bearer(""), 401},
		{"passphrase and token", func(c *Config) { token(c); withPhrase(c) }, bearer(scrapeToken), 200},
		{"passphrase and token, a wrong one", func(c *Config) { token(c); withPhrase(c) }, bearer(scrapeToken + "x"), 401},
		{"passphrase and token, in another dress", func(c *Config) { token(c); withPhrase(c) }, func(r *http.Request) { r.Header.Set("Authorization", scrapeToken) }, 401},
		{"a foreign name", token, func(r *http.Request) { bearer(scrapeToken)(r); r.Host = "evil.example" }, 421},
	} {
		p, _ := open(t, tansyBank(), c.change)
		r := ask(t, p, "GET", "/metrics", nil, c.who)
		if r.Code != c.want || strings.Contains(r.Body, "figures") != (c.want == 200) {
			t.Errorf("%s: %d %q, want %d", c.name, r.Code, r.Body, c.want)
		}
	}
	p, _ := open(t, tansyBank(), func(c *Config) { token(c); withPhrase(c) })
	if r := ask(t, p, "GET", "/metrics", nil, signedIn(t, p)); r.Code != 200 {
		t.Errorf("signed in: %d", r.Code)
	}
}

func TestTheShortAnswerNeedsNoSession(t *testing.T) {
	p, _ := open(t, tansyBank(), func(c *Config) { withFigures(c); withPhrase(c) })
	if r := page(t, p, "/healthz"); r.Code != 200 || r.Body != "walker: well\n" {
		t.Errorf("%d %q", r.Code, r.Body)
	}
}

func TestATokenIsLong(t *testing.T) {
	if _, err := New(Config{Standings: &house{}, ScrapeToken: "short"}); err == nil || strings.Contains(err.Error(), "short\"") {
		t.Error(err)
	}
	if _, err := New(Config{Standings: &house{}, ScrapeToken: scrapeToken, Page: garden.Page{}}); err != nil {
		t.Error(err)
	}
}
