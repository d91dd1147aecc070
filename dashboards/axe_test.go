package dashboards

import (
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestEveryPageIsAccessible runs the axe-core checker (rules for WCAG 2.2, W3C) over every page, light and dark. The checker is
// no part of this project: LATHWATCH_AXE names its axe.min.js, as "npm install axe-core" fetches it.
func TestEveryPageIsAccessible(t *testing.T) {
	file := os.Getenv("LATHWATCH_AXE")
	if file == "" {
		if _, err := exec.LookPath("npm"); err == nil && os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatal("LATHWATCH_AXE must name axe.min.js where npm can fetch it")
		}
		t.Skip("left out: LATHWATCH_AXE does not name axe.min.js")
	}
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	patience = 2 * time.Minute
	ctx := browser(t)
	p, _ := open(t, tansyBank(), withPast)
	locked, _ := open(t, tansyBank(), withPhrase)
	at, door := serve(t, p), serve(t, locked)
	paths := []string{at + "/", at + "/winter?pot=B1&beside=wall&with=2026", at + "/pot/B1", at + "/plant/P1", at + "/probe/shelter-air", at + "/said", at + "/garden", at + "/nowhere", door + "/sign-in"}
	if *running != "" { // -args -at URL: the pages of a running daemon instead
		paths = nil
		for _, s := range runningPaths {
			paths = append(paths, *running+s.at)
		}
	}
	for _, path := range paths {
		for _, dark := range []bool{false, true} {
			scheme(t, ctx, dark, "")
			do(t, ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(path), chromedp.Evaluate[chromedp.Void](string(axe)))
			found := get(t, ctx, chromedp.Evaluate[[]string](`axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]})
				.then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.target.join(" ") + " " + (n.any[0] || n.all[0] || n.none[0] || {}).message)))`, chromedp.EvalAwaitPromise))
			if len(found) > 0 {
				t.Errorf("%s, dark %v: %s", strings.TrimPrefix(path, at), dark, fmt.Sprint(strings.Join(found[:min(len(found), 12)], "\n")))
			}
		}
	}
}
