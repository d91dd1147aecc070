package push

import (
	"crypto/x509"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

const (
	soonLost   = 5 * time.Second  // a connection lost so soon after it stood was taken away
	soonTimes  = 3                // more such losses in a row mean that another client has our id
	silentFrom = 15 * time.Minute // without a connection for so long is worth a word
	settled    = time.Minute      // a connection that stood so long ends what was said about it
)

// watch turns the fate of connections into words for the keeper: one when a trouble begins, one when it is over.
type watch struct {
	env   Env
	where string

	mu    sync.Mutex // guards what follows
	since time.Time  // connected since, or without a connection since
	on    bool
	soon  int    // losses in a row that came soon
	told  string // the trouble told and not yet taken back
}

func newWatch(env Env, where string) *watch {
	return &watch{env: env, where: where, since: time.Now()}
}

func (w *watch) up() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.on, w.since = true, time.Now()
	if w.told != "" && w.told != TroubleInUse { // the others are disproved by a connection that stands
		w.over()
	}
	w.env.Log.Info("connected to the broker", "broker", w.where)
}

func (w *watch) lost(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	stood := time.Since(w.since)
	if !w.on {
		return
	}
	w.on, w.since = false, time.Now()
	w.env.Log.Warn("connection to the broker lost", "broker", w.where, "why", err)
	if stood >= soonLost {
		if w.soon = 0; w.told == TroubleInUse && stood >= settled {
			w.over()
		}
		return
	}
	if w.soon++; w.soon > soonTimes {
		w.tell(TroubleInUse, fmt.Sprintf("the broker at %s closes each connection within seconds: most likely another client uses the same client id; give one of them its own client-id", w.where))
	}
}

func (w *watch) failed(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	kind, text := diagnose(w.where, err, time.Now())
	if kind == TroubleSilent && time.Since(w.since) < silentFrom {
		w.env.Log.Debug("no connection to the broker", "broker", w.where, "why", err)
		return
	}
	w.tell(kind, text)
}

func (w *watch) tell(kind, text string) {
	if w.told == kind {
		return
	}
	if w.told != "" {
		w.over()
	}
	w.told = kind
	w.env.Log.Warn("trouble with the broker", "kind", kind, "what", text)
	w.env.Trouble(kind, text)
}

func (w *watch) over() {
	w.env.Trouble(w.told, "")
	w.told = ""
}

// diagnose says what a failed connection means to the keeper. A certificate that is not valid yet is this board's clock, not
// the broker's fault: it is tried again when the clock has been set, and never believed unverified.
func diagnose(where string, err error, now time.Time) (kind, text string) {
	var cert x509.CertificateInvalidError
	var unknown x509.UnknownAuthorityError
	var host x509.HostnameError
	switch {
	case errors.As(err, &cert) && cert.Reason == x509.Expired && cert.Cert != nil && now.Before(cert.Cert.NotBefore):
		return TroubleClock, fmt.Sprintf("this board's clock says %s, before the certificate of the broker at %s begins (%s): waiting for the clock to be set",
			now.UTC().Format(time.DateOnly), where, cert.Cert.NotBefore.UTC().Format(time.DateOnly))
	case errors.As(err, &cert), errors.As(err, &unknown), errors.As(err, &host):
		return TroubleTrust, fmt.Sprintf("the certificate of the broker at %s is not trusted: %v", where, err)
	case errors.Is(err, packets.ErrorRefusedBadUsernameOrPassword), errors.Is(err, packets.ErrorRefusedNotAuthorised):
		return TroublePassword, fmt.Sprintf("the broker at %s refuses the user or password given", where)
	case errors.Is(err, packets.ErrorRefusedIDRejected):
		return TroubleInUse, fmt.Sprintf("the broker at %s refuses our client id: give it another client-id", where)
	}
	return TroubleSilent, fmt.Sprintf("the broker at %s cannot be reached: messages wait until it can", where)
}
