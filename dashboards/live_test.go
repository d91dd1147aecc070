package dashboards

import (
	"bufio"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/garden"
)

// startServing runs Serve on a loopback listener; stop ends it and gives its error.
func startServing(t *testing.T, p *Pages) (address string, stop func() error) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- p.Serve(ctx, ln) }()
	t.Cleanup(cancel)
	return ln.Addr().String(), func() error {
		cancel()
		select {
		case err := <-done:
			return err
		case <-time.After(8 * time.Second):
			return fmt.Errorf("serving did not end")
		}
	}
}

// event reads the next data line of a feed.
func event(t *testing.T, r *bufio.Reader) map[string]string {
	t.Helper()
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		if data, ok := strings.CutPrefix(line, "data: "); ok {
			news := map[string]string{}
			if err := json.Unmarshal([]byte(data), &news); err != nil {
				t.Fatal(err)
			}
			return news
		}
	}
}

func TestAFeedSendsOnlyWhatChangedAndEndsWithTheServer(t *testing.T) {
	p, h := open(t, tansyBank(), nil)
	at, stop := startServing(t, p)
	req, _ := http.NewRequest("GET", "http://"+at+"/live", nil)
	req.Header.Set("Accept-Encoding", "gzip")
	res, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if res.Header.Get("Content-Type") != "text/event-stream" || res.Header.Get("Content-Encoding") != "" {
		t.Errorf("the feed is %v", res.Header)
	}
	r := bufio.NewReader(res.Body)
	if first := event(t, r); first["left.B1"] == "" || first["sentence"] == "" || first["stamp"] == "" {
		t.Errorf("the first event must bring everything: %v", first)
	}
	st := *h.Standing()
	st.Sentence = "Nothing to do"
	h.set(&st)
	if got := event(t, r); len(got) != 1 || got["sentence"] != "Nothing to do." {
		t.Errorf("the second event brings %v", got)
	}
	if err := stop(); err != nil {
		t.Errorf("ending with a feed open: %v", err)
	}
	if _, err := io.ReadAll(r); err != nil && !strings.Contains(err.Error(), "EOF") {
		t.Errorf("the feed ends with %v", err)
	}
}

// TestASlowReaderHoldsUpNobody: a reader that takes nothing neither delays new standings nor the end of the server.
func TestASlowReaderHoldsUpNobody(t *testing.T) {
	p, h := open(t, manyBank(), func(c *Config) { c.LiveEvery = time.Millisecond })
	at, stop := startServing(t, p)
	conn, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	conn.(*net.TCPConn).SetReadBuffer(1024)
	fmt.Fprintf(conn, "GET /live HTTP/1.1\r\nHost: localhost\r\n\r\n")
	res, err := http.Get("http://" + at + "/live")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	r := bufio.NewReader(res.Body)
	event(t, r)
	for i := range 2000 {
		st := *h.Standing()
		st.Sentence = strings.Repeat(fmt.Sprint(i, " "), 50)
		h.set(&st)
	}
	for last := ""; !strings.HasPrefix(last, "1999 "); { // the other reader still hears the newest, though not every step
		last = event(t, r)["sentence"]
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}

func TestServingOverTLSWithAnOwnCertificate(t *testing.T) {
	cert, key, pool := ownCertificate(t)
	p, _ := open(t, tansyBank(), func(c *Config) { withPhrase(c); c.TLS = true; c.Page = garden.Page{CertFile: cert, KeyFile: key} })
	at, stop := startServing(t, p)
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Get("https://" + at + "/sign-in")
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(res.Body)
	res.Body.Close()
	if res.StatusCode != 200 || strings.Contains(string(body), "not encrypted") {
		t.Errorf("%d over TLS", res.StatusCode)
	}
	client.CloseIdleConnections()
	if err := stop(); err != nil {
		t.Error(err)
	}
	p, _ = open(t, tansyBank(), func(c *Config) {
		withPhrase(c)
		c.Page = garden.Page{CertFile: cert, KeyFile: filepath.Join(t.TempDir(), "gone")}
	})
	ln, _ := net.Listen("tcp", "127.0.0.1:0")
	if err := p.Serve(context.Background(), ln); err == nil || !strings.Contains(err.Error(), "serving the pages") {
		t.Errorf("with a key that is not there: %v", err)
	}
}

func ownCertificate(t *testing.T) (certFile, keyFile string, pool *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	keyDER, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	certFile, keyFile = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	certPEM := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	for file, data := range map[string][]byte{certFile: certPEM, keyFile: pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: keyDER})} {
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pool = x509.NewCertPool()
	pool.AppendCertsFromPEM(certPEM)
	return certFile, keyFile, pool
}
