package dashboards

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"lathwatch/sensors"
)

const phrase0 = "moss under the third slat"

// TestInABrowser walks through the pages as a keeper would, in one headless browser.
func TestInABrowser(t *testing.T) {
	ctx := browser(t)
	p, h := open(t, tansyBank(), func(c *Config) { withPast(c); c.Passphrase = phrase0 })
	at := serve(t, p)
	t.Run("sign in", func(t *testing.T) {
		do(t, ctx, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(at+"/"))
		eventually(t, ctx, `location.pathname === "/sign-in"`)
		do(t, ctx, chromedp.SendKeys(chromedp.CSS("input[name=passphrase]"), phrase0+kb.Enter))
		eventually(t, ctx, `location.pathname === "/" && document.querySelector(".pot")`)
		if got := get(t, ctx, chromedp.Title()); got != "Water B3 lightly today. Next is B1, in 12 to 19 days." {
			t.Errorf("title %q", got)
		}
	})
	t.Run("water two pots and take one back", func(t *testing.T) { waterInBrowser(t, ctx, h, at) })
	t.Run("seen", func(t *testing.T) {
		do(t, ctx, chromedp.Click(chromedp.CSS("#alerts .alert:not(.grave) button[value=seen]")))
		eventually(t, ctx, `document.querySelectorAll("#alerts .alert").length === 1`)
		if n := h.taken(); n[len(n)-1].What != sensors.Seen || n[len(n)-1].Subject != "B3" || n[len(n)-1].Detail != "water-light" {
			t.Errorf("noted %+v", n[len(n)-1])
		}
	})
	t.Run("live value", func(t *testing.T) { liveInBrowser(t, ctx, h) })
	t.Run("read out and zoom by keys", func(t *testing.T) { keysInBrowser(t, ctx, at) })
	t.Run("zoom by dragging", func(t *testing.T) { dragInBrowser(t, ctx, at) })
	t.Run("scripts off", func(t *testing.T) { scriptsOffInBrowser(t, ctx, h, at) })
	t.Run("dark", func(t *testing.T) { darkInBrowser(t, ctx, at) })
	t.Run("print", func(t *testing.T) { printInBrowser(t, ctx, at) })
	t.Run("phone", func(t *testing.T) { phoneInBrowser(t, ctx, at) })
}

func waterInBrowser(t *testing.T, ctx context.Context, h *house, at string) {
	for _, pot := range []string{"B1", "B3"} {
		do(t, ctx, chromedp.Click(chromedp.CSS(`input[name=pot][value=`+pot+`]`)))
	}
	eventually(t, ctx, `document.querySelector(".verbs legend").textContent === "Note for 2 ticked pots"`)
	before := len(h.taken())
	do(t, ctx, chromedp.Click(chromedp.CSS("button[value=watered]")))
	eventually(t, ctx, `location.hash === "#benches" && document.querySelectorAll("#noted li").length === 3`)
	notes := h.taken()[before:]
	if len(notes) != 2 || notes[0].Subject != "B1" || notes[1].Subject != "B3" || notes[0].What != sensors.Watered {
		t.Fatalf("noted %+v", notes)
	}
	do(t, ctx, chromedp.Click(chromedp.CSS("#noted li:first-child button")))
	eventually(t, ctx, `location.hash === "#noted" && document.querySelectorAll("#noted li").length === 2`)
	_ = at
}

func liveInBrowser(t *testing.T, ctx context.Context, h *house) {
	st := *h.Standing()
	st.Sentence = "Nothing to do"
	st.Pots = append(st.Pots[:0:0], st.Pots...)
	st.Pots[0].Wetness, st.Pots[0].DaysLeft.Low, st.Pots[0].DaysLeft.High = 640, 40, 50
	st.Places = append(st.Places[:0:0], st.Places...)
	st.Places[0].Air = 4200
	st.Alerts = nil
	h.set(&st)
	eventually(t, ctx, `document.title === "Nothing to do."`)
	eventually(t, ctx, `document.querySelector('[data-live="reading.B1"]').textContent.startsWith("64")`)
	eventually(t, ctx, `document.querySelector('[data-live="air.shelter"]').textContent.startsWith("4.2")`)
	eventually(t, ctx, `document.querySelector('#news a')`)
	h.set(tansyBank())
}

func chartSpan(t *testing.T, ctx context.Context) (from, until int64) {
	t.Helper()
	v := get(t, ctx, chromedp.Evaluate[[]int64](`(c => [+c.dataset.from, +c.dataset.until])(document.querySelector("svg.chart"))`))
	return v[0], v[1]
}

func keysInBrowser(t *testing.T, ctx context.Context, at string) {
	do(t, ctx, chromedp.Navigate(at+"/winter?pot=B1"))
	eventually(t, ctx, `document.querySelector("#said").textContent.includes("26 Jan 2027, 1")`)
	do(t, ctx, chromedp.Focus(chromedp.CSS("#moment")), chromedp.Evaluate[chromedp.Void](`moment.value = 400; moment.dispatchEvent(new Event("input"))`))
	eventually(t, ctx, `/night low.*°C.*°C·d/.test(moment.getAttribute("aria-valuetext"))`)
	said := get(t, ctx, chromedp.Evaluate[string](`said.textContent`))
	do(t, ctx, chromedp.KeyEvent(kb.ArrowRight))
	eventually(t, ctx, fmt.Sprintf(`said.textContent !== %q`, said))
	from, until := chartSpan(t, ctx)
	do(t, ctx, chromedp.KeyEvent("+"))
	eventually(t, ctx, fmt.Sprintf(`+document.querySelector("svg.chart").dataset.from > %d && location.search.includes("from=")`, from))
	if f, u := chartSpan(t, ctx); (u-f)*2-(until-from) > 7200 || (until-from)-(u-f)*2 > 7200 {
		t.Errorf("after + the sheet spans %d s of %d", u-f, until-from)
	}
	do(t, ctx, chromedp.KeyEvent(kb.Escape))
	eventually(t, ctx, fmt.Sprintf(`+document.querySelector("svg.chart").dataset.from === %d`, from))
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`history.back()`))
	eventually(t, ctx, fmt.Sprintf(`+document.querySelector("svg.chart").dataset.from > %d`, from))
}

func dragInBrowser(t *testing.T, ctx context.Context, at string) {
	do(t, ctx, chromedp.Navigate(at+"/winter"))
	eventually(t, ctx, `document.querySelector("#sheet.read")`)
	box := get(t, ctx, chromedp.Evaluate[[]float64](`(r => [r.left, r.top, r.width, r.height])(document.querySelector("#fig-air .plot").getBoundingClientRect())`))
	from, until := chartSpan(t, ctx)
	y := box[1] + box[3]/2
	do(t, ctx, chromedp.DragAndDropXY(box[0]+box[2]*0.25, y, box[0]+box[2]*0.5, y))
	eventually(t, ctx, fmt.Sprintf(`+document.querySelector("svg.chart").dataset.from > %d`, from))
	f, u := chartSpan(t, ctx)
	if quarter := (until - from) / 4; f-from < quarter-7*3600 || f-from > quarter+7*3600 || u-f < quarter-14*3600 || u-f > quarter+14*3600 {
		t.Errorf("dragged from a quarter to a half: %d to %d of %d to %d", f, u, from, until)
	}
}

func scriptsOffInBrowser(t *testing.T, ctx context.Context, h *house, at string) {
	script := func(off bool) {
		c, cancel := context.WithTimeout(ctx, 10*time.Second)
		defer cancel()
		if _, err := chromedp.Call(c, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: off}); err != nil {
			t.Fatal(err)
		}
	}
	script(true)
	defer script(false)
	do(t, ctx, chromedp.Navigate(at+"/"), chromedp.Click(chromedp.CSS(`input[name=pot][value=W9]`)))
	before := len(h.taken())
	do(t, ctx, chromedp.Click(chromedp.CSS("button[value=flower]")))
	deadline := time.Now().Add(10 * time.Second)
	for len(h.taken()) == before && time.Now().Before(deadline) {
		time.Sleep(20 * time.Millisecond)
	}
	if n := h.taken(); len(n) != before+1 || n[before].What != sensors.Flower || n[before].Subject != "W9" {
		t.Fatalf("noted %+v", n[before:])
	}
	do(t, ctx, chromedp.WaitVisible(chromedp.CSS("#noted li:nth-child(3)")), chromedp.Navigate(at+"/winter?with=2026"), chromedp.WaitVisible(chromedp.CSS("#fig-air .k-with")))
}

func darkInBrowser(t *testing.T, ctx context.Context, at string) {
	ground := `getComputedStyle(document.body).backgroundColor`
	stroke := `getComputedStyle(document.querySelector(".k-low")).stroke`
	do(t, ctx, chromedp.Navigate(at+"/winter"))
	for _, c := range []struct {
		dark           bool
		ground, stroke string
	}{{true, "rgb(14, 21, 18)", "rgb(124, 192, 255)"}, {false, "rgb(255, 255, 255)", "rgb(10, 90, 160)"}} {
		scheme(t, ctx, c.dark, "")
		if g, s := get(t, ctx, chromedp.Evaluate[string](ground)), get(t, ctx, chromedp.Evaluate[string](stroke)); g != c.ground || s != c.stroke {
			t.Errorf("dark %v: %s on %s", c.dark, s, g)
		}
	}
}

func printInBrowser(t *testing.T, ctx context.Context, at string) {
	scheme(t, ctx, true, "print")
	defer scheme(t, ctx, false, "")
	do(t, ctx, chromedp.Navigate(at+"/winter"))
	if s := get(t, ctx, chromedp.Evaluate[string](`getComputedStyle(document.querySelector(".k-low")).stroke`)); s != "rgb(10, 90, 160)" {
		t.Errorf("from dark, the lows print as %s", s)
	}
	if get(t, ctx, chromedp.Evaluate[bool](`getComputedStyle(document.querySelector("nav")).display !== "none"`)) {
		t.Error("the menu is printed")
	}
	c, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	pdf, err := chromedp.Call(c, cdppage.PrintToPDF, cdppage.PrintToPDFParams{})
	if err != nil || len(pdf.Data) < 5000 {
		t.Errorf("printed %d bytes, %v", len(pdf.Data), err)
	}
}

// phoneInBrowser checks one-handed use at 390 by 844: nothing is wider than the screen, every press is at least 48 pixels high,
// and with a pot ticked the presses stick to the lower edge.
func phoneInBrowser(t *testing.T, ctx context.Context, at string) {
	do(t, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateScale(2)))
	for _, path := range []string{"/", "/winter?pot=B1", "/pot/B1", "/plant/P1", "/probe/B1-m", "/said", "/garden"} {
		do(t, ctx, chromedp.Navigate(at+path))
		if w := get(t, ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); w > 390 {
			t.Errorf("%s is %d wide", path, w)
		}
		small := get(t, ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll("button, .button, nav a, summary, select, input:not([type=hidden],[type=range],[type=checkbox])")].filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 48).map(e => e.outerHTML.slice(0, 80))`))
		if len(small) > 0 {
			t.Errorf("%s: under 48 pixels: %q", path, small)
		}
	}
	do(t, ctx, chromedp.Navigate(at+"/"), chromedp.Evaluate[chromedp.Void](`document.querySelector("input[value=B1]").click(); scrollTo(0, 900)`))
	eventually(t, ctx, `(r => r.bottom <= innerHeight + 1 && r.bottom > innerHeight - 60)(document.querySelector(".verbs").getBoundingClientRect())`)
}
