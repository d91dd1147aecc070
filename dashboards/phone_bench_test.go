package dashboards

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// BenchmarkFirstChartOnASlowPhone measures, on a processor slowed six times and a line of 10 Mbit/s with 40 ms delay, with nothing
// cached, the time from navigation to the first picture of a page: a page of text is the peer of the charts in the same run.
func BenchmarkFirstChartOnASlowPhone(b *testing.B) {
	ctx := browser(b)
	p, _ := open(b, tansyBank(), withPast)
	at := serve(b, p)
	c, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	if _, err := chromedp.Call(c, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: true}); err != nil {
		b.Fatal(err)
	}
	slow := []*network.Conditions{{Latency: 40, DownloadThroughput: 1.25e6, UploadThroughput: 1.25e6}}
	if _, err := chromedp.Call(c, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: slow}); err != nil {
		b.Fatal(err)
	}
	if _, err := chromedp.Call(c, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: 6}); err != nil {
		b.Fatal(err)
	}
	do(b, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateScale(3)))
	do(b, ctx, chromedp.Navigate(at+"/garden")) // the first picture of a browser is not the page's
	for _, v := range []struct{ name, at string }{{"text alone", "/plant/P1"}, {"winter", "/winter?pot=B1&with=2026"}, {"ten winters", "/winter?with=all"}, {"today", "/"}} {
		b.Run(v.name, func(b *testing.B) {
			sum, n := 0.0, 0
			for b.Loop() {
				do(b, ctx, chromedp.Navigate(at+v.at))
				eventually(b, ctx, `performance.getEntriesByName("first-contentful-paint").length`)
				sum += get(b, ctx, chromedp.Evaluate[float64](`performance.getEntriesByName("first-contentful-paint")[0].startTime`))
				n++
			}
			b.ReportMetric(sum/float64(n), "ms/first-picture")
		})
	}
}
