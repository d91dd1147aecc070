package push

import (
	"bytes"
	"context"
	"net/http"
)

// SetTransport lets a test answer a post way's requests itself.
func SetTransport(r Runner, rt http.RoundTripper) { r.(*postWay).client.Transport = rt }

// MailText is a letter as a mail server would be handed it.
func MailText(site string, l Letter) (string, error) {
	w := &mailWay{set: mailSettings{From: "garden@example.org"}, env: Env{Site: site}.withDefaults()}
	m, err := w.message(context.Background(), l, "keeper@example.org")
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	_, err = m.WriteTo(&b)
	return b.String(), err
}
