package dashboards

import (
	"bufio"
	"context"
	"io"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
)

// far is a listener whose connections seem to come from one address on the LAN.
type far struct{ net.Listener }

type farConn struct{ net.Conn }

func (farConn) RemoteAddr() net.Addr { return &net.TCPAddr{IP: net.IPv4(192, 0, 2, 7), Port: 5000} }

func (f far) Accept() (net.Conn, error) {
	c, err := f.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return farConn{c}, nil
}

// stays reports whether a connection is still held after it had time to be hung up on.
func stays(t *testing.T, c net.Conn, hold time.Duration) bool {
	t.Helper()
	_ = c.SetReadDeadline(time.Now().Add(hold))
	_, err := c.Read(make([]byte, 1))
	ne, ok := err.(net.Error)
	return ok && ne.Timeout()
}

func TestAFullDoorHangsUpAndMakesRoomAgain(t *testing.T) {
	for name, c := range map[string]struct {
		all, one, held int
		far            bool
	}{"of all": {3, 100, 3, false}, "of one address": {100, 2, 2, true}, "this board's own only by the number of all": {4, 2, 4, false}} {
		t.Run(name, func(t *testing.T) {
			ln, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				t.Fatal(err)
			}
			defer ln.Close()
			inner := net.Listener(ln)
			if c.far {
				inner = far{ln}
			}
			door := newCrowd(inner, c.all, c.one)
			in := make(chan net.Conn, 10)
			go func() { // ends with the listener
				for {
					conn, err := door.Accept()
					if err != nil {
						return
					}
					in <- conn
				}
			}()
			dial := func() net.Conn {
				conn, err := net.Dial("tcp", ln.Addr().String())
				if err != nil {
					t.Fatal(err)
				}
				t.Cleanup(func() { conn.Close() })
				return conn
			}
			for range c.held {
				dial()
			}
			for range c.held - 1 {
				<-in
			}
			last := <-in
			if stays(t, dial(), 5*time.Second) {
				t.Error("one more was let in")
			}
			last.Close()
			last.Close() // twice is once
			if !stays(t, dial(), 100*time.Millisecond) {
				t.Error("there was room again, but nobody was let in")
			}
			if stays(t, dial(), 5*time.Second) {
				t.Error("closing one connection twice made room for two")
			}
		})
	}
}

func TestTooManyLiveFeedsAreRefused(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	p.feeds.Store(maxFeeds)
	if r := ask(t, p, "GET", "/live", nil, nil); r.Code != http.StatusServiceUnavailable || r.Header.Get("Retry-After") == "" {
		t.Errorf("feed %d: %d", maxFeeds+1, r.Code)
	}
	if n := p.feeds.Load(); n != maxFeeds {
		t.Errorf("%d feeds are counted", n)
	}
	p.feeds.Store(maxFeeds - 1)
	address, stop := startServing(t, p)
	ctx, cancel := context.WithCancel(t.Context())
	req, _ := http.NewRequestWithContext(ctx, "GET", "http://"+address+"/live", nil)
	resp, err := http.DefaultClient.Do(req)
	if err != nil || resp.StatusCode != http.StatusOK {
		t.Fatal(resp, err)
	}
	event(t, bufio.NewReader(resp.Body))
	cancel()
	_ = resp.Body.Close()
	for end := time.Now().Add(10 * time.Second); p.feeds.Load() != maxFeeds-1; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("a feed that has ended is still counted")
		}
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}

// TestALargeBodyIsNotRead: a form beyond its bound is refused, wherever it is posted.
func TestALargeBodyIsNotRead(t *testing.T) {
	p, h := open(t, tansyBank(), nil)
	for _, path := range []string{"/note", "/alert", "/undo", "/sign-in"} {
		read := &counted{left: 8 << 20}
		r := ask(t, p, "POST", path, nil, func(r *http.Request) {
			r.Body = io.NopCloser(read)
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		})
		if r.Code != http.StatusBadRequest || read.n > 1<<20 || len(h.taken()) > 0 {
			t.Errorf("%s: %d after %d bytes", path, r.Code, read.n)
		}
	}
}

// counted gives so many letters and counts those that were asked for.
type counted struct{ left, n int }

func (c *counted) Read(p []byte) (int, error) {
	if c.left <= 0 {
		return 0, io.EOF
	}
	n := min(len(p), c.left)
	for i := range p[:n] {
		p[i] = 'a'
	}
	c.left, c.n = c.left-n, c.n+n
	return n, nil
}

// TestALongHeaderIsRefused: a request whose head is beyond 32 KiB is answered 431 (RFC 6585 section 5) and no page is made for it.
func TestALongHeaderIsRefused(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	address, stop := startServing(t, p)
	for size, want := range map[int]int{16 << 10: http.StatusOK, 64 << 10: http.StatusRequestHeaderFieldsTooLarge} {
		req, _ := http.NewRequestWithContext(t.Context(), "GET", "http://"+address+"/", nil)
		req.Header.Set("X-Long", strings.Repeat("a", size))
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		_ = resp.Body.Close()
		if resp.StatusCode != want {
			t.Errorf("a header of %d bytes: %d", size, resp.StatusCode)
		}
	}
	http.DefaultClient.CloseIdleConnections()
	if err := stop(); err != nil {
		t.Error(err)
	}
}

// TestADownloadsNameIsOneName: what is asked for may not end the name in the header or begin another header.
func TestADownloadsNameIsOneName(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	for _, place := range []string{"wall", "wall\"; filename=\"x.exe", "../../etc/passwd", "a\r\nX-Evil: 1", "水", strings.Repeat("a", 5000)} {
		for _, path := range []string{"/winter.csv?place=", "/winter.svg?place="} {
			r := ask(t, p, "GET", path+url.QueryEscape(place), nil, nil)
			kind, m, err := mime.ParseMediaType(r.Header.Get("Content-Disposition"))
			name := m["filename"]
			if r.Code == http.StatusOK && (err != nil || kind == "" || len(m) != 1 || !strings.HasPrefix(name, "winter-") || strings.ContainsAny(name, "/\\\"\r\n") || len(name) > 200) {
				t.Errorf("%s%q: %d %q", path, place, r.Code, r.Header.Get("Content-Disposition"))
			}
			if r.Header.Get("X-Evil") != "" {
				t.Errorf("%s%q makes a header", path, place)
			}
			if place == "wall" && r.Code != http.StatusOK {
				t.Errorf("%s%s: %d: this looks at nothing", path, place, r.Code)
			}
		}
	}
}
