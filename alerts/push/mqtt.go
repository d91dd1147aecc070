package push

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() { add(Way{Name: "mqtt", Doc: mqttDoc, Example: mqttExample, Open: openMQTT}) }

const mqttDoc = "Publishes every message, the standing alerts, pots and readings to an MQTT broker: an outside one, or the one inside when no address is given."

const mqttExample = `broker = "mqtt://192.0.2.10:1883"
user = "lathwatch"
wait = "10 s"
`

// mqttSettings is the table [push.mqtt] with its defaults beside it.
type mqttSettings struct {
	Broker       string     `toml:"broker" help:"mqtt://host:1883 or mqtts://host:8883; empty: the broker inside"`
	User         string     `toml:"user" help:"name to sign in with; needs password-file"`
	PasswordFile string     `toml:"password-file" help:"readable by its owner only"`
	CAFile       string     `toml:"ca-file" help:"certificates to trust instead of the system's"`
	CertFile     string     `toml:"cert-file" help:"our own certificate, with key-file"`
	KeyFile      string     `toml:"key-file" help:"readable by its owner only"`
	ClientID     string     `toml:"client-id" help:"lathwatch-<site>-<machine> when missing"`
	Wait         units.Span `toml:"wait" help:"how long to wait for an acknowledgement"`
	Readings     bool       `toml:"readings" help:"publish each round's readings"`
}

func mqttDefaults() mqttSettings {
	return mqttSettings{Wait: units.Span(10 * time.Second), Readings: true}
}

func openMQTT(cfg table.Raw, env Env) (Runner, error) {
	set := mqttDefaults()
	if err := table.Decode(cfg, &set); err != nil {
		return nil, err
	}
	if err := set.check(cfg); err != nil {
		return nil, err
	}
	m := &mqttWay{set: set, env: env.withDefaults(), topics: Topics{env.Site}}
	if set.Broker == "" {
		if env.Local == nil {
			return nil, cfg.Errorf("broker", "there is no broker to publish to: write broker = \"mqtt://host:1883\", or remove off = true from [broker]")
		}
		m.wire = &localWire{env.Local, m.topics.Status()}
		m.notes = env.Local.Asks() && env.NoteTaker != nil
		return m, nil
	}
	password, err := Secret(set.PasswordFile)
	if err != nil {
		return nil, cfg.Errorf("password-file", "%w", err)
	}
	trust, err := set.tls()
	if err != nil {
		return nil, cfg.Errorf("ca-file", "%w", err)
	}
	if m.set.ClientID == "" {
		m.set.ClientID = clientID(env.Site, env.Machine)
	}
	m.wire = &pahoWire{set: m.set, password: password, trust: trust, status: m.topics.Status(), env: m.env}
	m.notes = password != "" && env.NoteTaker != nil
	return m, nil
}

func (set *mqttSettings) check(cfg table.Raw) error {
	if set.Wait.Duration() < time.Second || set.Wait.Duration() > 5*time.Minute {
		return cfg.Errorf("wait", "%s is out of range: write 1 s to 5 min", set.Wait)
	}
	if set.Broker == "" {
		if set.User != "" || set.PasswordFile != "" || set.CAFile != "" || set.CertFile != "" {
			return cfg.Errorf("broker", "a user, password or certificate is given but no broker: write broker = \"mqtt://host:1883\" (the broker inside has its own settings under [broker])")
		}
		return nil
	}
	u, err := url.Parse(set.Broker)
	if err != nil || u.Hostname() == "" || u.Scheme != "mqtt" && u.Scheme != "mqtts" {
		return cfg.Errorf("broker", "%q is not a broker's address: write \"mqtt://host:1883\" or, with TLS, \"mqtts://host:8883\"", set.Broker)
	}
	if u.User != nil {
		return cfg.Errorf("broker", "a password does not belong in the address: write user and password-file")
	}
	switch {
	case set.User == "" && set.PasswordFile != "":
		return cfg.Errorf("password-file", "a password needs its user: write user = \"...\"")
	case u.Scheme == "mqtt" && (set.CAFile != "" || set.CertFile != "" || set.KeyFile != ""):
		return cfg.Errorf("broker", "certificates are given but the address has no TLS: write \"mqtts://%s:8883\"", u.Hostname())
	case (set.CertFile == "") != (set.KeyFile == ""):
		return cfg.Errorf("cert-file", "cert-file and key-file belong together: write both or neither")
	}
	return nil
}

// address is the broker's with its port.
func (set *mqttSettings) address() string {
	u, _ := url.Parse(set.Broker) // check has parsed it
	if u.Port() == "" {
		u.Host += map[string]string{"mqtt": ":1883", "mqtts": ":8883"}[u.Scheme]
	}
	return u.Scheme + "://" + u.Host
}

// mqttWay publishes over a wire: to a broker outside or to the one inside.
type mqttWay struct {
	set    mqttSettings
	env    Env
	topics Topics
	wire   wire
	notes  bool // the note topic is listened to
	lost   lostNotes
}

func (m *mqttWay) Name() string { return "mqtt" }

func (m *mqttWay) Run(ctx context.Context) error {
	s := newSession(m)
	stop := s.takeNotes(ctx)
	defer stop()
	m.wire.run(ctx, s.serve)
	return ctx.Err()
}

func (m *mqttWay) Test(ctx context.Context) error {
	l := testLetter(time.Now())
	err := m.wire.once(ctx, publication{topic: m.topics.Message(), payload: alerts.SentMessage(l.Change, l.Says()), qos: 1})
	if err != nil {
		return fmt.Errorf("sending a test message to %s: %w", m.wire.where(), err)
	}
	return nil
}
