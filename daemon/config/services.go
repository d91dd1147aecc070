package config

import (
	"net"
	"net/netip"
	"strconv"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
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
		s.Page = garden.Page{Listen: k.Listen, PassphraseFile: k.PassphraseFile, CertFile: k.CertFile, KeyFile: k.KeyFile, Hosts: k.Hosts, OpenReading: k.OpenReading, Off: k.Off}
		if r.listen(b, k.Listen) && k.PassphraseFile == "" {
			r.find(b.raw.Errorf("listen", "%q can be reached from other machines: write passphrase-file = \"...\" too, or listen = \"127.0.0.1:8642\"", k.Listen))
		}
		if (k.CertFile == "") != (k.KeyFile == "") {
			r.find(b.raw.Errorf("", "cert-file and key-file go together: write both or neither"))
		}
	case "journal":
		var k journalKeys
		r.find(table.DecodeGood(b.raw, &k))
		s.Journal = garden.Journal{Path: k.Path}
	case "backup":
		k := backupKeys{Keep: defaultKeep}
		r.find(table.DecodeGood(b.raw, &k))
		s.Backup = garden.Backup{Folder: k.Folder, Keep: k.Keep}
		if k.Keep < 1 || k.Keep > 1000 {
			r.find(b.raw.Errorf("keep", "%d copies: write 1 to 1000", k.Keep))
		}
	}
}

// Defaults of the daemon's own doors.
const (
	defaultBroker = "127.0.0.1:1883"
	defaultPage   = "127.0.0.1:8642"
	defaultKeep   = 3
)

func (r *reader) defaults() {
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
