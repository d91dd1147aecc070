package push

import (
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"strings"
)

// clientID is the site's with a suffix of this machine: the same after every start, another on another machine, so that two
// boards with one garden file do not push each other off the broker.
func clientID(site, machine string) string {
	if machine == "" {
		machine = machineSuffix("/etc/machine-id")
	}
	return "lathwatch-" + segment(site) + "-" + machine
}

// machineSuffix is made from the machine's id, which itself should not be told to others.
func machineSuffix(path string) string {
	b, err := os.ReadFile(path)
	id := strings.TrimSpace(string(b))
	if err != nil || id == "" {
		id, _ = os.Hostname()
	}
	sum := sha256.Sum256([]byte("lathwatch mqtt " + id))
	return hex.EncodeToString(sum[:4])
}

// tls is what the broker is verified against and, if wanted, what we show it. Verification cannot be switched off.
func (set *mqttSettings) tls() (*tls.Config, error) {
	cfg := &tls.Config{MinVersion: tls.VersionTLS12}
	if set.CAFile != "" {
		pem, err := os.ReadFile(set.CAFile)
		if err != nil {
			return nil, fmt.Errorf("reading the certificates to trust: %w", err)
		}
		cfg.RootCAs = x509.NewCertPool()
		if !cfg.RootCAs.AppendCertsFromPEM(pem) {
			return nil, errors.New("reading the certificates to trust: there is no PEM certificate in " + set.CAFile)
		}
	}
	if set.CertFile != "" {
		own, err := KeyPair(set.CertFile, set.KeyFile)
		if err != nil {
			return nil, err
		}
		cfg.Certificates = []tls.Certificate{own}
	}
	return cfg, nil
}

// KeyPair reads a certificate and its key, which only its owner may be able to read.
func KeyPair(certFile, keyFile string) (own tls.Certificate, err error) {
	cert, err := os.ReadFile(certFile)
	if err != nil {
		return own, fmt.Errorf("reading our own certificate: %w", err)
	}
	key, err := private(keyFile)
	if err != nil {
		return own, fmt.Errorf("reading the key of our own certificate: %w", err)
	}
	if own, err = tls.X509KeyPair(cert, key); err != nil {
		return own, fmt.Errorf("reading our own certificate: %w", err)
	}
	return own, nil
}
