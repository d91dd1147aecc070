package push

import (
	"encoding/json"
	"io"
	"maps"
	"net/http"
	"net/url"
	"slices"
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
content-type = "application/json"
timeout = "30 s"

[headers]
X-Priority = "{{if eq .Rank \"tonight\"}}high{{else}}normal{{end}}"
`

// postSettings is the table [push.post] with its defaults beside it.
type postSettings struct {
	URL         string            `toml:"url" help:"where each message is posted"`
	Template    string            `toml:"template" help:"of the body: text with {{.Text}}, {{.Kind}}, {{.Rank}}, {{.State}}, {{.Key}}, {{.Place}}, {{.Pots}}, {{.To}}, {{.At}}"`
	ContentType string            `toml:"content-type" help:"of the body"`
	Headers     map[string]string `toml:"headers" help:"templates too; {{.Secret}} is the content of secret-file"`
	SecretFile  string            `toml:"secret-file" help:"readable by its owner only"`
	Timeout     units.Span        `toml:"timeout" help:"of one try"`
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
		return nil, cfg.Errorf("secret-file", "%w", err)
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
