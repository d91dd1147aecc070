package main

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/daemon"
)

// ownKey writes page.key and page.crt and gives what of the key must never be seen: the lines of its file and its number.
func ownKey(t *testing.T, dir string) (secret []string, pool *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	inside, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	number, err := key.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	cert, text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: inside})
	for name, b := range map[string][]byte{"page.crt": cert, "page.key": text} {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for l := range strings.Lines(string(text)) {
		if l = strings.TrimSpace(l); !strings.HasPrefix(l, "-----") {
			secret = append(secret, l)
		}
	}
	if len(secret) < 3 {
		t.Fatalf("the key has %d lines", len(secret))
	}
	pool = x509.NewCertPool()
	pool.AppendCertsFromPEM(cert)
	return append(secret, hex.EncodeToString(number), "PRIVATE KEY"), pool
}

// busy does everything at which a secret might slip into the log.
func (g *guarded) busy(t *testing.T, state string) (made []string) {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	web := &http.Client{Jar: jar, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: g.cert}}}
	get := func(path, token string) int {
		req, err := http.NewRequestWithContext(t.Context(), "GET", g.page+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		if token != "" {
			req.Header.Set("Authorization", "Bearer "+token)
		}
		resp, err := web.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		if b, err := io.ReadAll(resp.Body); err != nil || bytes.Contains(b, []byte("CANARY")) && path != "/sitter" {
			t.Errorf("%s shows a secret (%v):\n%s", path, err, b)
		}
		return resp.StatusCode
	}
	for path, want := range map[string]int{"/metrics": 401, "/healthz": 200} {
		if got := get(path, ""); got != want && got != 503 {
			t.Errorf("%s: %d", path, got)
		}
	}
	if a, b := get("/metrics", "CANARY-wrong-token-shown"), get("/metrics", "CANARY-file-metrics-long-enough"); a != 401 || b != 200 {
		t.Errorf("tokens: %d and %d", a, b)
	}
	for _, phrase := range []string{"CANARY-wrong-passphrase", "CANARY-file-page-long-enough"} {
		resp, err := web.PostForm(g.page+"/sign-in", url.Values{"passphrase": {phrase}})
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
	}
	at, _ := url.Parse(g.page)
	for _, c := range jar.Cookies(at) {
		made = append(made, c.Value)
	}
	if len(made) != 1 {
		t.Fatal("there is no session")
	}
	get("/", "")
	get("/garden", "")
	client, err := daemon.Dial(state)
	if err != nil {
		t.Fatal(err)
	}
	cal, err := client.Calendar(t.Context(), true, false)
	if err != nil {
		t.Fatal(err)
	}
	made = append(made, strings.TrimSuffix(filepath.Base(cal.Path), ".ics"))
	get(cal.Path, "")
	get(strings.TrimSuffix(cal.Path, ".ics")+"/x/", "")
	made = append(append(made, sittersDoor(t, client, get)), g.keys...)
	g.strangers(t)
	for _, way := range []string{"post", "mail", "mqtt"} {
		_, _ = client.PushTest(t.Context(), way) // none can succeed; what is logged is the matter
	}
	return made
}

// sittersDoor makes the sitter's address and uses it well and badly.
func sittersDoor(t *testing.T, client *daemon.Client, get func(path, token string) int) (secret string) {
	t.Helper()
	sit, err := client.Sitter(t.Context(), daemon.SitterWish{New: true})
	if err != nil {
		t.Fatal(err)
	}
	if secret = filepath.Base(sit.Path); len(secret) < 20 {
		t.Fatalf("the sitter's address is %q", sit.Path)
	}
	if right, wrong := get(sit.Path, ""), get(sit.Path+"x", ""); right != 200 || wrong != 404 {
		t.Errorf("the sitter's address: %d, a wrong one: %d", right, wrong)
	}
	get(sit.Path+"/"+secret, "")
	get("/?from="+secret, "")
	return secret
}

// strangers speak to the page's port without its certificate's trust, and without TLS: both fail inside the server.
func (g *guarded) strangers(t *testing.T) {
	t.Helper()
	at := strings.TrimPrefix(g.page, "https://")
	if c, err := tls.Dial("tcp", at, &tls.Config{}); err == nil {
		c.Close()
		t.Error("a certificate of our own is trusted by everybody")
	}
	if resp, err := http.Get("http://" + at + "/healthz"); err == nil {
		resp.Body.Close()
	}
}
