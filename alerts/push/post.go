package push

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"text/template"
	"time"

	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() { add(Way{Name: "post", Doc: postDoc, Example: postExample, Open: openPost}) }

const postDoc = "Sends every message by HTTP POST, in the words of a template, to any service that takes one."

const postExample = `url = "https://messages.example.org/garden"
template = '{"title": {{json .Kind}}, "text": {{json .Text}}, "id": {{json .Key}}}'
content_type = "application/json"
timeout = "30 s"

[headers]
X-Priority = "{{if eq .Rank \"tonight\"}}high{{else}}normal{{end}}"
`

// postSettings is the table [push.post] with its defaults beside it.
type postSettings struct {
	URL         string            `toml:"url"`
	Template    string            `toml:"template"` // of the body; text/template over postFields
	ContentType string            `toml:"content_type"`
	Headers     map[string]string `toml:"headers"`     // templates too; {{.Secret}} is the content of secret_file
	SecretFile  string            `toml:"secret_file"` // readable by its owner only
	Timeout     units.Span        `toml:"timeout"`     // of one try
}

func postDefaults() postSettings {
	return postSettings{Template: "{{.Text}}", ContentType: "text/plain; charset=utf-8", Timeout: units.Span(30 * time.Second)}
}

// postFields is what a template may use. Secret is only filled in for headers.
type postFields struct {
	Text   string
	Kind   string
	Rank   string // tonight, week, digest
	State  string // raised, worse, cleared, said
	Key    string // the same for a repeat
	Place  string
	Pots   []string
	To     string // "" the keeper, "sitter"
	At     time.Time
	Secret string
}

type postWay struct {
	set     postSettings
	env     Env
	target  *url.URL
	body    *template.Template
	headers []headerTemplate
	secret  string
	client  *http.Client
}

type headerTemplate struct {
	name  string
	value *template.Template
}

func openPost(cfg table.Raw, env Env) (Runner, error) {
	w := &postWay{set: postDefaults(), env: env.withDefaults()}
	if err := table.Decode(cfg, &w.set); err != nil {
		return nil, err
	}
	u, err := url.Parse(w.set.URL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, cfg.Errorf("url", "%q is not an address to post to: write \"http://...\" or \"https://...\"", w.set.URL)
	}
	w.target = u
	if t := w.set.Timeout.Duration(); t < time.Second || t > 5*time.Minute {
		return nil, cfg.Errorf("timeout", "%s is out of range: write 1 s to 5 min", w.set.Timeout)
	}
	if w.secret, err = Secret(w.set.SecretFile); err != nil {
		return nil, cfg.Errorf("secret_file", "%w", err)
	}
	if err := w.templates(cfg); err != nil {
		return nil, err
	}
	w.client = &http.Client{Timeout: w.set.Timeout.Duration(), CheckRedirect: sameHost}
	return w, nil
}

var postFuncs = template.FuncMap{
	"json": func(v any) (string, error) { b, err := json.Marshal(v); return string(b), err },
	"join": strings.Join,
}

// templates parses body and headers and tries them once, so that a field that does not exist is refused at the start.
func (w *postWay) templates(cfg table.Raw) error {
	parse := func(key, text string) (*template.Template, error) {
		t, err := template.New(key).Funcs(postFuncs).Option("missingkey=error").Parse(text)
		if err == nil {
			err = t.Execute(io.Discard, postFields{})
		}
		if err != nil {
			return nil, cfg.Errorf(key, "this template does not work: %w", err)
		}
		return t, nil
	}
	var err error
	if w.body, err = parse("template", w.set.Template); err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(w.set.Headers)) {
		t, err := parse("headers."+name, w.set.Headers[name])
		if err != nil {
			return err
		}
		w.headers = append(w.headers, headerTemplate{name, t})
	}
	return nil
}

// sameHost follows a redirect only when it stays at the host and scheme the keeper named, and stays a POST: a 301 or 302 turns
// it into a GET, whose answer would pass for delivery.
func sameHost(req *http.Request, via []*http.Request) error {
	switch {
	case len(via) > 3:
		return errors.New("redirected more than three times")
	case req.URL.Host != via[0].URL.Host || req.URL.Scheme != via[0].URL.Scheme:
		return errors.New("redirected to another host or scheme")
	case req.Method != http.MethodPost:
		return errors.New("redirected in a way that drops the message")
	}
	return nil
}

func (w *postWay) Name() string { return "post" }

func (w *postWay) Run(ctx context.Context) error {
	d := &delivery{env: w.env, where: w.target.Host, send: w.send}
	return d.run(ctx)
}

func (w *postWay) Test(ctx context.Context) error {
	if err := w.send(ctx, testLetter(time.Now())); err != nil {
		return fmt.Errorf("posting a test message: %w", err)
	}
	return nil
}

func (w *postWay) send(ctx context.Context, l Letter) error {
	c := l.Change
	f := postFields{Text: l.Says(), Kind: c.Kind, Rank: c.Rank.String(), State: c.State.String(), Key: c.Key, Place: c.Place, Pots: c.Pots, To: c.To, At: c.At.UTC()}
	var body bytes.Buffer
	if err := w.body.Execute(&body, f); err != nil {
		return refused(fmt.Errorf("filling in the template: %w", err))
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, w.set.URL, &body)
	if err != nil {
		return refused(w.hush(err))
	}
	req.Header.Set("Content-Type", w.set.ContentType)
	req.Header.Set("User-Agent", "") // no need to name ourselves
	f.Secret = w.secret
	for _, h := range w.headers {
		var v strings.Builder
		if err := h.value.Execute(&v, f); err != nil {
			return refused(fmt.Errorf("filling in header %s: %w", h.name, err))
		}
		req.Header.Set(h.name, oneLine(v.String()))
	}
	resp, err := w.client.Do(req)
	if err != nil {
		return w.hush(err)
	}
	defer resp.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(resp.Body, 64<<10)) // so that the connection can be used again
	return answer(resp)
}

// oneLine keeps a value inside its header.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// answer turns a status into what it means for the letter: 2xx taken; 408, 429 and 5xx later; everything else refused.
func answer(resp *http.Response) error {
	code := resp.StatusCode
	switch {
	case code >= 200 && code < 300:
		return nil
	case code == http.StatusRequestTimeout, code == http.StatusTooManyRequests, code >= 500:
		return &failure{err: fmt.Errorf("answered %s", resp.Status), after: retryAfter(resp.Header.Get("Retry-After"), time.Now())}
	}
	return refused(fmt.Errorf("answered %s", resp.Status))
}

// retryAfter reads seconds or a date (RFC 9110, section 10.2.3).
func retryAfter(s string, now time.Time) time.Duration {
	if n, err := strconv.Atoi(s); err == nil && n > 0 {
		return min(time.Duration(min(n, 1<<20))*time.Second, longestWait)
	}
	if t, err := http.ParseTime(s); err == nil {
		return max(t.Sub(now), 0)
	}
	return 0
}

// hush keeps the address out of errors: it may hold a token, and errors end up in logs and on the page.
func (w *postWay) hush(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		err = u.Err
	}
	return fmt.Errorf("posting to %s: %w", w.target.Host, err)
}
