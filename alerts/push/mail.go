package push

import (
	"context"
	"crypto/tls"
	"fmt"
	"net/mail"
	"time"

	gomail "github.com/wneessen/go-mail"

	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() { add(Way{Name: "mail", Doc: mailDoc, Example: mailExample, Open: openMail}) }

const mailDoc = "Sends every message by mail, its sentence as the subject, with the curve attached."

const mailExample = `host = "mail.example.org"
tls = "starttls"
from = "garden@example.org"
to = ["keeper@example.org"]
sitter = "sitter@example.org"
timeout = "60 s"
`

// mailSettings is the table [push.mail] with its defaults beside it.
type mailSettings struct {
	Host         string     `toml:"host" help:"name of the mail server"`
	Port         int        `toml:"port" help:"587 with starttls, 465 with tls, 25 with none when missing"`
	TLS          string     `toml:"tls" help:"\"starttls\", \"tls\" from the first byte, or \"none\" for a relay on the LAN"`
	User         string     `toml:"user" help:"name to sign in with; none: no sign-in"`
	PasswordFile string     `toml:"password-file" help:"readable by its owner only"`
	CAFile       string     `toml:"ca-file" help:"certificates to trust instead of the system's"`
	From         string     `toml:"from" help:"address the letters come from"`
	To           []string   `toml:"to" help:"who gets them"`
	Sitter       string     `toml:"sitter" help:"who gets the sitter's messages; the same as to when missing"`
	Timeout      units.Span `toml:"timeout" help:"of one try"`
}

func mailDefaults() mailSettings {
	return mailSettings{TLS: "starttls", Timeout: units.Span(time.Minute)}
}

type mailWay struct {
	set    mailSettings
	env    Env
	client func() (*gomail.Client, error)
	key    string          // of the letter that is being sent
	taken  map[string]bool // who has it already
}

func openMail(cfg table.Raw, env Env) (Runner, error) {
	w := &mailWay{set: mailDefaults(), env: env.withDefaults()}
	if err := table.Decode(cfg, &w.set); err != nil {
		return nil, err
	}
	if err := w.set.check(cfg); err != nil {
		return nil, err
	}
	password, err := Secret(w.set.PasswordFile)
	if err != nil {
		return nil, cfg.Errorf("password-file", "%w", err)
	}
	trust, err := (&mqttSettings{CAFile: w.set.CAFile}).tls()
	if err != nil {
		return nil, cfg.Errorf("ca-file", "%w", err)
	}
	trust.ServerName = w.set.Host
	opts := w.set.options(password, trust)
	w.client = func() (*gomail.Client, error) { return gomail.NewClient(w.set.Host, opts...) }
	if _, err := w.client(); err != nil {
		return nil, cfg.Errorf("host", "%w", err)
	}
	return w, nil
}

func (set *mailSettings) check(cfg table.Raw) error {
	ports := map[string]int{"starttls": 587, "tls": 465, "none": 25}
	if ports[set.TLS] == 0 {
		return cfg.Errorf("tls", "%q is not known: write \"starttls\", \"tls\" or, for a relay on the LAN, \"none\"", set.TLS)
	}
	if set.Port == 0 {
		set.Port = ports[set.TLS]
	}
	switch {
	case set.Host == "":
		return cfg.Errorf("host", "there is no mail server: write host = \"mail.example.org\"")
	case set.Port < 1 || set.Port > 65535:
		return cfg.Errorf("port", "%d is not a port: write 1 to 65535", set.Port)
	case len(set.To) == 0:
		return cfg.Errorf("to", "nobody would get the mail: write to = [\"keeper@example.org\"]")
	case (set.User == "") != (set.PasswordFile == ""):
		return cfg.Errorf("user", "user and password-file belong together: write both or neither")
	case set.TLS == "none" && set.User != "":
		return cfg.Errorf("tls", "the password would cross the network readable: write tls = \"starttls\" or \"tls\", or leave user out")
	case set.Timeout.Duration() < time.Second || set.Timeout.Duration() > 10*time.Minute:
		return cfg.Errorf("timeout", "%s is out of range: write 1 s to 10 min", set.Timeout)
	}
	if err := address(cfg, "from", set.From); err != nil {
		return err
	}
	for _, a := range set.To {
		if err := address(cfg, "to", a); err != nil {
			return err
		}
	}
	if set.Sitter == "" {
		return nil
	}
	return address(cfg, "sitter", set.Sitter)
}

func address(cfg table.Raw, key, a string) error {
	if _, err := mail.ParseAddress(a); err != nil {
		return cfg.Errorf(key, "%q is not a mail address: write it like \"keeper@example.org\"", a)
	}
	return nil
}

func (set *mailSettings) options(password string, trust *tls.Config) []gomail.Option {
	opts := []gomail.Option{gomail.WithPort(set.Port), gomail.WithTimeout(set.Timeout.Duration()), gomail.WithTLSConfig(trust), gomail.WithoutNoop()}
	switch set.TLS {
	case "starttls":
		opts = append(opts, gomail.WithTLSPolicy(gomail.TLSMandatory))
	case "tls":
		opts = append(opts, gomail.WithSSL())
	case "none":
		opts = append(opts, gomail.WithTLSPolicy(gomail.NoTLS))
	}
	if set.User != "" {
		opts = append(opts, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(set.User), gomail.WithPassword(password))
	}
	return opts
}

func (w *mailWay) Name() string { return "mail" }

func (w *mailWay) Run(ctx context.Context) error {
	d := &delivery{env: w.env, where: w.set.Host, send: w.send}
	return d.run(ctx)
}

func (w *mailWay) Test(ctx context.Context) error {
	fresh := &mailWay{set: w.set, env: w.env, client: w.client} // beside Run: who has Run's letter is its own affair
	if err := fresh.send(ctx, testLetter(time.Now())); err != nil {
		return fmt.Errorf("sending a test mail: %w", err)
	}
	return nil
}
