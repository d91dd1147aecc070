package push

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// sameHost follows a redirect only when it stays at the host and scheme the keeper named, and stays a POST: a 301 or 302 turns
// it into a GET, whose answer would pass for delivery.
func sameHost(req *http.Request, via []*http.Request) error {
	switch {
	case len(via) > 3:
		return errors.New("redirected more than three times")
	case req.URL.Host != via[0].URL.Host || req.URL.Scheme != via[0].URL.Scheme:
		return errors.New("redirected to another host or scheme")
	case req.Method != http.MethodPost:
		return errors.New("redirected in a way that drops the message")
	}
	return nil
}

func (w *postWay) Name() string { return "post" }

func (w *postWay) Run(ctx context.Context) error {
	d := &delivery{env: w.env, where: w.target.Host, send: w.send}
	return d.run(ctx)
}

func (w *postWay) Test(ctx context.Context) error {
	if err := w.send(ctx, testLetter(time.Now())); err != nil {
		return fmt.Errorf("posting a test message: %w", err)
	}
	return nil
}

func (w *postWay) send(ctx context.Context, l Letter) error {
	c := l.Change
	f := postFields{Text: l.Says(), Kind: c.Kind, Rank: c.Rank.String(), State: c.State.String(), Key: c.Key, Place: c.Place, Pots: c.Pots, To: c.To, At: c.At.UTC()}
	var body bytes.Buffer
	if err := w.body.Execute(&body, f); err != nil {
		return refused(fmt.Errorf("filling in the template: %w", err))
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, w.set.URL, &body)
	if err != nil {
		return refused(w.hush(err))
	}
	req.Header.Set("Content-Type", w.set.ContentType)
	req.Header.Set("User-Agent", "") // no need to name ourselves
	f.Secret = w.secret
	for _, h := range w.headers {
		var v strings.Builder
		if err := h.value.Execute(&v, f); err != nil {
			return refused(fmt.Errorf("filling in header %s: %w", h.name, err))
		}
		req.Header.Set(h.name, oneLine(v.String()))
	}
	resp, err := w.client.Do(req)
	if err != nil {
		return w.hush(err)
	}
	defer resp.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(resp.Body, 64<<10)) // so that the connection can be used again
	return answer(resp)
}

// oneLine keeps a value inside its header. One with a control character would never be sent (RFC 9110 section 5.5).
func oneLine(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
}

// answer turns a status into what it means for the letter: 2xx taken; 408, 429 and 5xx later; everything else refused.
func answer(resp *http.Response) error {
	code := resp.StatusCode
	switch {
	case code >= 200 && code < 300:
		return nil
	case code == http.StatusRequestTimeout, code == http.StatusTooManyRequests, code >= 500:
		return &failure{err: fmt.Errorf("answered %s", resp.Status), after: retryAfter(resp.Header.Get("Retry-After"), time.Now())}
	}
	return refused(fmt.Errorf("answered %s", resp.Status))
}

// retryAfter reads seconds or a date (RFC 9110, section 10.2.3).
func retryAfter(s string, now time.Time) time.Duration {
	if n, err := strconv.Atoi(s); err == nil && n > 0 {
		return min(time.Duration(min(n, 1<<20))*time.Second, longestWait)
	}
	if t, err := http.ParseTime(s); err == nil {
		return max(t.Sub(now), 0)
	}
	return 0
}

// hush keeps the address out of errors: it may hold a token, and errors end up in logs and on the page.
func (w *postWay) hush(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		err = u.Err
	}
	return fmt.Errorf("posting to %s: %w", w.target.Host, err)
}
