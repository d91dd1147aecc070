package dashboards

import (
	"context"
	"flag"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

var only = flag.String("garden", "", "draw only this garden's pictures")

var shots = flag.String("shots", "", "folder for pictures of every page: go test ./dashboards -run Screens -args -shots DIR")

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

func do(t testing.TB, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func get[T any](t testing.TB, ctx context.Context, a chromedp.Action[T]) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
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
	c, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	if _, err := chromedp.Call(c, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media,
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: value}}}); err != nil {
		t.Fatal(err)
	}
}

// TestScreens draws every page in every size into a folder of the caller's.
func TestScreens(t *testing.T) {
	if *shots == "" {
		t.Skip("left out: no -shots folder was named")
	}
	ctx := browser(t)
	for _, g := range screenGardens() {
		if *only != "" && g.name != *only {
			continue
		}
		p, _ := open(t, g.st(), g.change)
		at := serve(t, p)
		for _, path := range g.paths {
			for _, size := range []struct {
				name   string
				w, h   int64
				mobile bool
			}{{"phone", 390, 844, true}, {"laptop", 1280, 800, false}} {
				for _, dark := range []bool{false, true} {
					scheme(t, ctx, dark, "")
					scale, opts := 1.0, []chromedp.EmulateViewportOption{}
					if size.mobile {
						scale, opts = 2, append(opts, chromedp.EmulateMobile)
					}
					do(t, ctx, chromedp.EmulateViewport(size.w, size.h, append(opts, chromedp.EmulateScale(scale))...), chromedp.Navigate(at+path.at))
					name := g.name + "-" + path.name + "-" + size.name
					if dark {
						name += "-dark"
					}
					save(t, name, get(t, ctx, chromedp.FullScreenshot(100)))
				}
			}
			scheme(t, ctx, true, "print") // as paper would have it, from a dark screen
			do(t, ctx, chromedp.EmulateViewport(720, 1000), chromedp.Navigate(at+path.at))
			save(t, g.name+"-"+path.name+"-print", get(t, ctx, chromedp.FullScreenshot(100)))
		}
	}
}

func save(t *testing.T, name string, png []byte) {
	t.Helper()
	if err := os.MkdirAll(*shots, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(*shots, name+".png"), png, 0o644); err != nil {
		t.Fatal(err)
	}
}
