package push_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts/push"
)

// authority is a certificate authority of a test's own.
type authority struct {
	t    *testing.T
	dir  string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func newAuthority(t *testing.T, name string) *authority {
	t.Helper()
	a := &authority{t: t, dir: t.TempDir()}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	a.key = newKey(t)
	a.cert = a.sign(tmpl, tmpl, a.key, "ca")
	return a
}

func newKey(t *testing.T) *ecdsa.PrivateKey {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func (a *authority) sign(tmpl, parent *x509.Certificate, key *ecdsa.PrivateKey, file string) *x509.Certificate {
	a.t.Helper()
	signer := a.key
	der, err := x509.CreateCertificate(rand.Reader, tmpl, parent, &key.PublicKey, signer)
	if err != nil {
		a.t.Fatal(err)
	}
	kder, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		a.t.Fatal(err)
	}
	a.write(file+".crt", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
	a.write(file+".key", pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: kder}))
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		a.t.Fatal(err)
	}
	return cert
}

func (a *authority) write(name string, b []byte) {
	if err := os.WriteFile(filepath.Join(a.dir, name), b, 0o600); err != nil {
		a.t.Fatal(err)
	}
}

func (a *authority) path(name string) string { return filepath.Join(a.dir, name) }

// leaf makes a certificate for 127.0.0.1, valid from an instant on.
func (a *authority) leaf(file string, from time.Time) {
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: file}, NotBefore: from, NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}}
	a.sign(tmpl, a.cert, newKey(a.t), file)
}

func (a *authority) broker(extra string) *mosquitto {
	return newMosquitto(a.t, fmt.Sprintf("allow_anonymous true\ncafile %s\ncertfile %s\nkeyfile %s\n%s", a.path("ca.crt"), a.path("server.crt"), a.path("server.key"), extra))
}

func secure(m *mosquitto) string { return fmt.Sprintf("mqtts://127.0.0.1:%d", m.port) }

func TestTLSWithAnAuthorityAndACertificateOfOurOwn(t *testing.T) {
	t.Parallel()
	a := newAuthority(t, "garden authority")
	a.leaf("server", time.Now().Add(-time.Hour))
	a.leaf("client", time.Now().Add(-time.Hour))
	m := a.broker("require_certificate true\n").start()
	body := fmt.Sprintf("broker = %q\nca-file = %q\ncert-file = %q\nkey-file = %q", secure(m), a.path("ca.crt"), a.path("client.crt"), a.path("client.key"))
	box := newOutbox()
	box.add(change(0))
	start(t, open(t, "mqtt", body, push.Env{Outbox: box}))
	eventually(t, 15*time.Second, "nothing was delivered over TLS", func() bool { return box.done() == 1 })

	without := fmt.Sprintf("broker = %q\nca-file = %q\nwait = \"2 s\"", secure(m), a.path("ca.crt"))
	if err := open(t, "mqtt", without, push.Env{}).Test(t.Context()); err == nil {
		t.Error("the broker asks for a certificate, and a test send without one passed")
	}
}

func TestACertificateNobodyWeTrustHasSignedIsRefused(t *testing.T) {
	t.Parallel()
	a, b := newAuthority(t, "one"), newAuthority(t, "two")
	a.leaf("server", time.Now().Add(-time.Hour))
	m := a.broker("").start()
	var tr troubles
	box := newOutbox()
	box.add(change(0))
	start(t, open(t, "mqtt", fmt.Sprintf("broker = %q\nca-file = %q", secure(m), b.path("ca.crt")), push.Env{Outbox: box, Trouble: tr.tell}))
	eventually(t, 15*time.Second, "the keeper was not told", func() bool { return tr.has(push.TroubleTrust) })
	if box.done() != 0 {
		t.Error("a message went to a broker we do not trust")
	}
}

// A board without a battery for its clock starts in the past: the certificate is then not valid yet. Here it begins shortly.
func TestFieldLogClock(t *testing.T) {
	t.Run("K3_certificate_not_yet_valid", certificateNotYetValid)
}

func certificateNotYetValid(t *testing.T) {
	t.Parallel()
	a := newAuthority(t, "garden authority")
	a.leaf("server", time.Now().Add(4*time.Second))
	m := a.broker("").start()
	var tr troubles
	box := newOutbox()
	box.add(change(0))
	start(t, open(t, "mqtt", fmt.Sprintf("broker = %q\nca-file = %q", secure(m), a.path("ca.crt")), push.Env{Outbox: box, Trouble: tr.tell}))
	eventually(t, 15*time.Second, "the keeper was not told that the clock is wrong", func() bool { return tr.has(push.TroubleClock) })
	if box.done() != 0 {
		t.Error("the certificate was not verified")
	}
	eventually(t, 20*time.Second, "it was not tried again once the certificate was valid", func() bool { return box.done() == 1 })
	said := tr.all()
	if last := said[len(said)-1]; last != push.TroubleClock+": (over)" {
		t.Errorf("the last word is %q", last)
	}
}

func TestAWrongPasswordIsToldAndTheRightOneEndsIt(t *testing.T) {
	t.Parallel()
	m, body := passworded(t)
	users := filepath.Join(t.TempDir(), "users")
	setPassword(t, users, "another")
	conf, err := os.ReadFile(filepath.Join(m.dir, "conf"))
	if err != nil {
		t.Fatal(err)
	}
	right := string(conf)
	i, j := strings.Index(right, "password_file ")+len("password_file "), len(right)-1
	wrong := right[:i] + users + right[j:]
	if err := os.WriteFile(filepath.Join(m.dir, "conf"), []byte(wrong), 0o600); err != nil {
		t.Fatal(err)
	}
	m.start()
	var tr troubles
	box := newOutbox()
	box.add(change(0))
	r := open(t, "mqtt", body, push.Env{Outbox: box, Trouble: tr.tell})
	start(t, r)
	eventually(t, 15*time.Second, "the keeper was not told", func() bool { return tr.has(push.TroublePassword) })
	if err := r.Test(t.Context()); err == nil {
		t.Error("a test send with the wrong password passed")
	}
	m.stop()
	if err := os.WriteFile(filepath.Join(m.dir, "conf"), conf, 0o600); err != nil {
		t.Fatal(err)
	}
	m.start()
	eventually(t, 20*time.Second, "it was not tried again", func() bool { return box.done() == 1 })
	for _, s := range tr.all() {
		if strings.Contains(s, "leaf mould") {
			t.Errorf("the password is told: %s", s)
		}
	}
}
