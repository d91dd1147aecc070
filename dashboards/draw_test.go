package dashboards

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

var (
	shots   = flag.String("shots", "", "folder for pictures of every page: go test ./dashboards -run Screens -args -shots DIR")
	only    = flag.String("garden", "", "draw only this garden's pictures")
	running = flag.String("at", "", "draw the pages of the daemon at this address instead, such as http://127.0.0.1:8000")
)

// runningPaths are the pages drawn of a running daemon, as the demo's garden has them.
var runningPaths = []screenPath{{"today", "/"}, {"winter", "/winter?season=2027&pot=D7&beside=wall"}, {"said", "/said"}, {"garden", "/garden"}, {"review", "/review"}, {"ledger", "/ledger"}, {"moves", "/moves"},
	{"sitter", "/sitter"}, {"sitter-sheet", "/sitter?from=2027-08-03&until=2027-08-17"}, {"pot", "/pot/D7"}, {"pot-wall", "/pot/W1"}, {"plant", "/plant/segawai"}, {"probe", "/probe/D7-m"}, {"probe-air", "/probe/table-air"}, {"nowhere", "/nowhere"}}

// TestScreens draws every page in every size into a folder of the caller's.
func TestScreens(t *testing.T) {
	if *shots == "" {
		t.Skip("left out: no -shots folder was named")
	}
	patience = 3 * time.Minute
	ctx := browser(t)
	if *running != "" {
		for _, path := range append(runningPaths, morePaths()...) {
			draw(t, ctx, "demo-"+path.name, *running+path.at)
		}
		return
	}
	for _, g := range screenGardens() {
		if *only != "" && g.name != *only {
			continue
		}
		p, _ := open(t, g.st(), g.change)
		at := serve(t, p)
		for _, path := range g.paths {
			draw(t, ctx, g.name+"-"+path.name, at+path.at)
		}
	}
}

// morePaths are pages the caller names beside the usual ones: -args -at URL name=/path ...
func morePaths() []screenPath {
	var out []screenPath
	for _, a := range flag.Args() {
		if name, at, ok := strings.Cut(a, "="); ok {
			out = append(out, screenPath{name, at})
		}
	}
	return out
}

// draw takes the pictures of one page: phone and laptop, light and dark, and as paper would have it from a dark screen.
func draw(t *testing.T, ctx context.Context, name, url string) {
	t.Helper()
	for _, dark := range []bool{false, true} {
		scheme(t, ctx, dark, "")
		dress := ""
		if dark {
			dress = "-dark"
		}
		do(t, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateScale(2)), chromedp.Navigate(url))
		save(t, name+"-phone"+dress, get(t, ctx, chromedp.FullScreenshot(100)))
		do(t, ctx, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(url))
		save(t, name+"-laptop"+dress, get(t, ctx, chromedp.FullScreenshot(100)))
	}
	scheme(t, ctx, true, "print")
	do(t, ctx, chromedp.EmulateViewport(720, 1000), chromedp.Navigate(url))
	save(t, name+"-print", get(t, ctx, chromedp.FullScreenshot(100)))
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
