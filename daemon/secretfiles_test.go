package daemon

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestADaemonDoesNotStartWithASecretThatOthersCanRead goes through every key that names a file with a secret.
func TestADaemonDoesNotStartWithASecretThatOthersCanRead(t *testing.T) {
	bare := strings.Replace(liveGarden, "[page]\nlisten = \"127.0.0.1:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n", "", 1)
	const page = "[broker]\nlisten = \"127.0.0.1:0\"\n[page]\nlisten = \"127.0.0.1:0\"\n"
	post := page + "[push.post]\nurl = \"http://127.0.0.1:9/\"\n"
	for name, text := range map[string]string{
		"the page's passphrase":       page + "passphrase-file = %q\n",
		"the figures' token":          page + "metrics-token-file = %q\n",
		"the page's key":              page + "cert-file = \"CERT\"\nkey-file = %q\n",
		"the broker's password":       "[page]\noff = true\n[broker]\nlisten = \"127.0.0.1:0\"\nuser = \"keeper\"\npassword-file = %q\n",
		"an outside broker's":         page + "[push.mqtt]\nbroker = \"mqtt://127.0.0.1:9\"\nuser = \"keeper\"\npassword-file = %q\n",
		"our key at a broker":         page + "[push.mqtt]\nbroker = \"mqtts://127.0.0.1:9\"\ncert-file = \"CERT\"\nkey-file = %q\n",
		"the mail's password":         page + "[push.mail]\nhost = \"mail.example.org\"\nfrom = \"garden@example.org\"\nto = [\"keeper@example.org\"]\nuser = \"garden\"\npassword-file = %q\n",
		"a post's secret":             post + "secret-file = %q\n",
		"the token of a store nearby": page + "[influx]\nurl = \"http://127.0.0.1:9\"\nbucket = \"garden\"\ntoken-file = %q\n",
	} {
		t.Run(name, func(t *testing.T) {
			for _, mode := range []os.FileMode{0o644, 0o640, 0o602} {
				dir := t.TempDir()
				secret, cert := keyPair(t, dir)
				if err := os.Chmod(secret, mode); err != nil {
					t.Fatal(err)
				}
				garden := bare + strings.ReplaceAll(fmt.Sprintf(text, secret), "CERT", cert)
				if err := startOnce(t, dir, garden); err == nil || !strings.Contains(err.Error(), "others can read "+secret) {
					t.Errorf("mode %v: %v", mode, err)
				}
			}
		})
	}
}

// startOnce makes and runs a daemon; one that starts is ended soon.
func startOnce(t *testing.T, dir, garden string) error {
	d, err := New(t.Context(), Config{GardenPath: "garden.toml", GardenText: garden, StateDir: dir, Root: dir})
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	return d.Run(ctx)
}

// keyPair writes a key and a certificate that belongs to it; for what wants a password the key is one too.
func keyPair(t *testing.T, dir string) (key, cert string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &k.PublicKey, k)
	if err != nil {
		t.Fatal(err)
	}
	kder, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	key, cert = filepath.Join(dir, "secret"), filepath.Join(dir, "crt")
	for path, b := range map[string]*pem.Block{key: {Type: "PRIVATE KEY", Bytes: kder}, cert: {Type: "CERTIFICATE", Bytes: der}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(b), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return key, cert
}
