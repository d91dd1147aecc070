package push_test

import (
	"bufio"
	"context"
	"encoding/base64"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	"net/mail"
	"net/textproto"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
)

// relay is a mail server on loopback that speaks SMTP (RFC 5321) without TLS, as a relay on the LAN may.
type relay struct {
	l      net.Listener
	answer func(n int, line string) string // "" answers politely; n counts connections from 1

	mu    sync.Mutex // guards what follows
	mails []string
	lines []string
}

func newRelay(t *testing.T, answer func(n int, line string) string) *relay {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &relay{l: l, answer: answer}
	go func() {
		for n := 1; ; n++ {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go r.talk(n, c)
		}
	}()
	t.Cleanup(func() { l.Close() })
	return r
}

func (r *relay) talk(n int, c net.Conn) {
	defer c.Close()
	tp := textproto.NewConn(c)
	tp.PrintfLine("220 relay")
	for {
		line, err := tp.ReadLine()
		if err != nil {
			return
		}
		r.mu.Lock()
		r.lines = append(r.lines, line)
		r.mu.Unlock()
		say := ""
		if r.answer != nil {
			say = r.answer(n, line)
		}
		verb, _, _ := strings.Cut(strings.ToUpper(line), " ")
		switch {
		case say == "hang up":
			return
		case say != "":
		case verb == "EHLO":
			say = "250-relay\r\n250 8BITMIME"
		case verb == "DATA":
			tp.PrintfLine("354 go on")
			b, err := tp.ReadDotBytes()
			if err != nil {
				return
			}
			r.mu.Lock()
			r.mails = append(r.mails, string(b))
			r.mu.Unlock()
			say = "250 taken"
		case verb == "QUIT":
			tp.PrintfLine("221 bye")
			return
		default:
			say = "250 fine"
		}
		tp.PrintfLine("%s", say)
	}
}

func (r *relay) all() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]string(nil), r.mails...)
}

func (r *relay) body(more string) string {
	return fmt.Sprintf("host = \"127.0.0.1\"\nport = %d\ntls = \"none\"\nfrom = \"garden@example.org\"\nto = [\"keeper@example.org\"]\n%s", r.l.Addr().(*net.TCPAddr).Port, more)
}

// read takes a mail apart with the standard library.
func read(t *testing.T, raw string) (h mail.Header, text string, files map[string]string) {
	t.Helper()
	m, err := mail.ReadMessage(bufio.NewReader(strings.NewReader(raw)))
	if err != nil {
		t.Fatal(err)
	}
	files = map[string]string{}
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(kind, "multipart/") {
		b, _ := io.ReadAll(quotedprintable.NewReader(m.Body))
		return m.Header, string(b), files
	}
	parts := multipart.NewReader(m.Body, params["boundary"])
	for {
		p, err := parts.NextRawPart()
		if err == io.EOF {
			return m.Header, text, files
		}
		if err != nil {
			t.Fatal(err)
		}
		var from io.Reader = p
		switch p.Header.Get("Content-Transfer-Encoding") {
		case "quoted-printable":
			from = quotedprintable.NewReader(p)
		case "base64":
			from = base64.NewDecoder(base64.StdEncoding, p)
		}
		b, err := io.ReadAll(from)
		if err != nil {
			t.Fatal(err)
		}
		if name := p.FileName(); name != "" {
			files[name] = string(b)
		} else {
			text = string(b)
		}
	}
}

func TestAMailHasTheSentenceAsSubjectAndTheCurveAttached(t *testing.T) {
	t.Parallel()
	r := newRelay(t, nil)
	box := newOutbox()
	c := change(0)
	c.Text = "Cover the table: −6 °C tonight at about 05:00."
	late := change(1)
	late.Until = time.Now().Add(-time.Hour)
	box.add(late, c)
	picture := func(_ context.Context, key string) (string, []byte, error) {
		return "curve.svg", []byte("<svg>" + key + "</svg>"), nil
	}
	start(t, open(t, "mail", r.body(""), push.Env{Outbox: box, Picture: picture}))
	eventually(t, 10*time.Second, "nothing was mailed", func() bool { return box.done() == 2 })
	h, text, files := read(t, r.all()[0])
	subject, err := new(mime.WordDecoder).DecodeHeader(h.Get("Subject"))
	if err != nil {
		t.Fatal(err)
	}
	if subject != c.Text {
		t.Errorf("subject %q", subject)
	}
	if want := "Not sent in time: " + late.Text + "\n" + c.Text + "\n"; strings.ReplaceAll(text, "\r\n", "\n") != want {
		t.Errorf("text %q", text)
	}
	if d := cmp.Diff(map[string]string{"curve.svg": "<svg>k00000</svg>"}, files); d != "" {
		t.Error(d)
	}
	for _, name := range []string{"User-Agent", "X-Mailer"} {
		if v := h.Get(name); v != "" {
			t.Errorf("the mail names its program: %s: %s", name, v)
		}
	}
	if at, err := h.Date(); err != nil || !at.Equal(c.At) {
		t.Errorf("date %v, %v", at, err)
	}
	if id := h.Get("Message-Id"); !strings.HasSuffix(id, "@elderbank.invalid>") {
		t.Errorf("message id %q", id)
	}
	if to := h.Get("To"); !strings.Contains(to, "keeper@example.org") {
		t.Errorf("to %q", to)
	}
}

func TestASittersMessageGoesToTheSitter(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ more, want string }{{`sitter = "sitter@example.org"`, "sitter@example.org"}, {"", "keeper@example.org"}} {
		r := newRelay(t, nil)
		box := newOutbox()
		m := change(0)
		m.To = "sitter"
		box.add(m)
		start(t, open(t, "mail", r.body(c.more), push.Env{Outbox: box}))
		eventually(t, 10*time.Second, "nothing was mailed", func() bool { return box.done() == 1 })
		if h, _, _ := read(t, r.all()[0]); !strings.Contains(h.Get("To"), c.want) {
			t.Errorf("with %q: to %q", c.more, h.Get("To"))
		}
	}
}

// A server that has taken the message and then fails must not get it again.
func TestAMailTakenIsNotSentAgainWhenTheGoodbyeFails(t *testing.T) {
	t.Parallel()
	r := newRelay(t, func(_ int, line string) string {
		if line == "RSET" || line == "QUIT" {
			return "hang up"
		}
		return ""
	})
	box := newOutbox()
	box.add(change(0), change(1))
	start(t, open(t, "mail", r.body(""), push.Env{Outbox: box}))
	eventually(t, 10*time.Second, "the outbox was not emptied", func() bool { return box.done() == 2 })
	if n := len(r.all()); n != 2 {
		t.Errorf("%d mails for 2 messages", n)
	}
}

// A repeat goes only to those who have not got it, under the same message id as before.
func TestOneAddressThatMustWaitDoesNotRepeatTheOthers(t *testing.T) {
	t.Parallel()
	r := newRelay(t, func(n int, line string) string {
		if strings.Contains(line, "RCPT") && strings.Contains(line, "slow@") && n <= 2 {
			return "451 try again later"
		}
		return ""
	})
	box := newOutbox()
	box.add(change(0))
	start(t, open(t, "mail", strings.Replace(r.body(""), `to = ["keeper@example.org"]`, `to = ["slow@example.org", "keeper@example.org"]`, 1), push.Env{Outbox: box}))
	eventually(t, 20*time.Second, "the outbox was not emptied", func() bool { return box.done() == 1 })
	var to []string
	for _, m := range r.all() {
		h, _, _ := read(t, m)
		to = append(to, h.Get("To"))
	}
	if d := cmp.Diff([]string{"<keeper@example.org>", "<slow@example.org>"}, to); d != "" {
		t.Error(d)
	}
}

func TestATestMailSaysSo(t *testing.T) {
	t.Parallel()
	r := newRelay(t, nil)
	if err := open(t, "mail", r.body(""), push.Env{}).Test(t.Context()); err != nil {
		t.Fatal(err)
	}
	if h, _, _ := read(t, r.all()[0]); !strings.HasPrefix(h.Get("Subject"), "This is a test") {
		t.Errorf("subject %q", h.Get("Subject"))
	}
	shut := newRelay(t, func(int, string) string { return "550 no" })
	if err := open(t, "mail", shut.body(""), push.Env{}).Test(t.Context()); err == nil {
		t.Error("a refused test mail counts as sent")
	}
}

func TestARelayWithoutSTARTTLSIsRefusedUnlessAllowed(t *testing.T) {
	t.Parallel()
	r := newRelay(t, nil)
	strict := strings.Replace(r.body(""), `tls = "none"`, `tls = "starttls"`, 1)
	if err := open(t, "mail", strict, push.Env{}).Test(t.Context()); err == nil || !strings.Contains(err.Error(), "STARTTLS") {
		t.Errorf("without the setting: %v", err)
	}
	if len(r.all()) != 0 {
		t.Error("the mail went out readable")
	}
}

// TestAMailsSubjectIsTheSentenceWhateverItLooksLike: a name may look like an encoded word (RFC 2047), end in the middle of one, or be long.
func TestAMailsSubjectIsTheSentenceWhateverItLooksLike(t *testing.T) {
	for _, text := range []string{"D7 wants water", "=?utf-8?q?x?= wants water", "=??B??=", "a =?iso-8859-1?b?", strings.Repeat("=?utf-8?b?QQ==?= and ", 9) + "more", "Mäusedorn =?utf-8?q?x?=", "D7 =?utf-8?q?=0D=0ABcc:_a?="} {
		raw, err := push.MailText("[elderbank]", push.Letter{Seq: 1, Change: alerts.Change{Key: "k", At: noon, Kind: "water", Text: text}})
		if err != nil {
			t.Fatal(err)
		}
		h, _, _ := read(t, raw)
		if got, err := new(mime.WordDecoder).DecodeHeader(h.Get("Subject")); err != nil || got != text || len(h) != 9 {
			t.Errorf("%q is told as %q (%v) under %d headers", text, got, err, len(h))
		}
		for line := range strings.Lines(string(raw)) {
			if len(line) > 80 { // RFC 5322 section 2.1.1: 78 and the line's end
				t.Errorf("a line of %d: %q", len(line), line)
			}
		}
	}
}
