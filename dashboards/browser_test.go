package dashboards

import (
	"context"
	"net/http/httptest"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// browser starts a headless browser for a test, or leaves the test out where there is none.
func browser(t testing.TB) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatal("chromium is required and was not found")
		}
		t.Skip("left out: no chromium here")
	}
	alloc, stop := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.Headless,
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(func() { cancel(); stop() })
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil { // the first run owns the browser's life: no time limit on it
		t.Fatal(err)
	}
	return ctx
}

// serve puts pages behind a loopback address.
func serve(t testing.TB, p *Pages) string {
	t.Helper()
	s := httptest.NewServer(p)
	t.Cleanup(func() { p.stop(); s.Close() })
	return s.URL
}

// patience is how long one step in the browser may take; pictures are drawn beside other work and wait longer.
var patience = 20 * time.Second

func do(t testing.TB, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func get[T any](t testing.TB, ctx context.Context, a chromedp.Action[T]) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// eventually waits until an expression is true in the page.
func eventually(t testing.TB, ctx context.Context, expression string) {
	t.Helper()
	deadline := time.Now().Add(10 * time.Second)
	for time.Now().Before(deadline) {
		c, cancel := context.WithTimeout(ctx, 5*time.Second)
		ok, err := chromedp.Run(c, chromedp.Evaluate[bool]("!!("+expression+")"))
		cancel()
		if err == nil && ok {
			return
		}
		time.Sleep(30 * time.Millisecond)
	}
	t.Fatalf("never true: %s", expression)
}

func scheme(t *testing.T, ctx context.Context, dark bool, media string) {
	t.Helper()
	value := "light"
	if dark {
		value = "dark"
	}
	c, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if _, err := chromedp.Call(c, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media,
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: value}}}); err != nil {
		t.Fatal(err)
	}
}
