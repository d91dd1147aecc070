package config

import (
	"log/slog"
	"net"
	"net/netip"
	"strconv"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func (r *reader) service(b *block) {
	s := &r.garden.Services
	switch b.kind {
	case "normals":
		r.normals(b)
	case "broker":
		var k brokerKeys
		r.find(table.DecodeGood(b.raw, &k))
		s.Broker = garden.Broker{Listen: k.Listen, User: k.User, PasswordFile: k.PasswordFile, Off: k.Off}
		if r.listen(b, k.Listen) && k.PasswordFile == "" {
			r.find(b.raw.Errorf("listen", "%q can be reached from other machines: write password-file = \"...\" too, or listen = \"127.0.0.1:1883\"", k.Listen))
		}
		if (k.User == "") != (k.PasswordFile == "") {
			r.find(b.raw.Errorf("", "user and password-file go together: write both or neither"))
		}
	case "page":
		var k pageKeys
		r.find(table.DecodeGood(b.raw, &k))
		s.Page = garden.Page{Listen: k.Listen, PassphraseFile: k.PassphraseFile, CertFile: k.CertFile, KeyFile: k.KeyFile, Hosts: k.Hosts, OpenReading: k.OpenReading, Off: k.Off,
			MetricsTokenFile: k.MetricsToken}
		if r.listen(b, k.Listen) && k.PassphraseFile == "" {
			r.find(b.raw.Errorf("listen", "%q can be reached from other machines: write passphrase-file = \"...\" too, or listen = \"127.0.0.1:8642\"", k.Listen))
		}
		if (k.CertFile == "") != (k.KeyFile == "") {
			r.find(b.raw.Errorf("", "cert-file and key-file go together: write both or neither"))
		}
	case "sitter":
		r.sitter(b)
	case "journal":
		var k journalKeys
		r.find(table.DecodeGood(b.raw, &k))
		s.Journal = garden.Journal{Path: k.Path}
	case "log":
		r.log(b)
	case "backup":
		k := backupKeys{Keep: defaultKeep}
		r.find(table.DecodeGood(b.raw, &k))
		s.Backup = garden.Backup{Folder: k.Folder, Keep: k.Keep}
		if k.Keep < 1 || k.Keep > 1000 {
			r.find(b.raw.Errorf("keep", "%d copies: write 1 to 1000", k.Keep))
		}
	}
}

// sitter reads when the sitter comes. That visits three days apart do for most mixes in summer is growers' habit.
func (r *reader) sitter(b *block) {
	k := sitterKeys{First: units.Span(48 * time.Hour), Every: units.Span(72 * time.Hour), Hour: units.Span(18 * time.Hour)}
	r.find(table.DecodeGood(b.raw, &k))
	day := func(s units.Span) bool { return s.Duration()%(24*time.Hour) == 0 && s.Duration() <= 31*24*time.Hour }
	switch {
	case k.First < 0 || !day(k.First):
		r.find(b.raw.Errorf("first", "%s: write whole days from leaving to the first visit, like first = \"2 d\"", k.First))
	case k.Every <= 0 || !day(k.Every):
		r.find(b.raw.Errorf("every", "%s: write whole days between two visits, like every = \"3 d\"", k.Every))
	case k.Hour < 0 || k.Hour.Duration() >= 24*time.Hour:
		r.find(b.raw.Errorf("hour", "%s: write the hour of the day the sitter comes, like hour = \"18 h\"", k.Hour))
	}
	days := func(s units.Span) garden.Date { return garden.Date(s.Duration() / (24 * time.Hour)) }
	r.garden.Sitter = garden.Sitter{First: days(k.First), Every: days(k.Every), Hour: k.Hour.Duration(), Phone: k.Phone}
}

// log reads how log lines look.
func (r *reader) log(b *block) {
	k := logKeys{Form: "text", Level: "info", Most: 6}
	r.find(table.DecodeGood(b.raw, &k))
	r.choice(b, "form", k.Form, "text", "json")
	levels := map[string]slog.Level{"debug": slog.LevelDebug, "info": slog.LevelInfo, "warn": slog.LevelWarn, "error": slog.LevelError}
	r.choice(b, "level", k.Level, "debug", "info", "warn", "error")
	if k.Most < 1 || k.Most > 10_000 {
		r.find(b.raw.Errorf("most", "%d lines: write 1 to 10000", k.Most))
	}
	r.garden.Services.Log = garden.Log{JSON: k.Form == "json", Level: levels[k.Level], Most: k.Most}
}

// Defaults of the daemon's own doors.
const (
	defaultBroker = "127.0.0.1:1883"
	defaultPage   = "127.0.0.1:8642"
	defaultKeep   = 3
)

func (r *reader) defaults() {
	if r.garden.Sitter.Every == 0 {
		r.garden.Sitter = garden.Sitter{First: 2, Every: 3, Hour: 18 * time.Hour, Phone: r.garden.Sitter.Phone}
	}
	s := &r.garden.Services
	if s.Broker.Listen == "" {
		s.Broker.Listen = defaultBroker
	}
	if s.Page.Listen == "" {
		s.Page.Listen = defaultPage
	}
	if s.Backup.Keep == 0 {
		s.Backup.Keep = defaultKeep
	}
}

// listen checks host:port and reports whether it can be reached from other machines.
func (r *reader) listen(b *block, at string) (open bool) {
	if at == "" {
		return false
	}
	host, port, err := net.SplitHostPort(at)
	n, perr := strconv.Atoi(port)
	if err != nil || perr != nil || n < 0 || n > 65535 {
		r.find(b.raw.Errorf("listen", "%q is not an address with a port: write it like \"127.0.0.1:8642\"", at))
		return false
	}
	ip, err := netip.ParseAddr(host)
	return host != "localhost" && (err != nil || !ip.IsLoopback())
}
