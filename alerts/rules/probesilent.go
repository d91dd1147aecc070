package rules

import (
	"cmp"
	"regexp"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "probe-silent", Doc: "probes that do not answer for six hours are a line in the digest, one a bus: one wire is usually behind them all (common practice, no source)",
		Example: "[rule.probe-silent]\n", Build: buildProbeSilent})
}

func buildProbeSilent(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "probe-silent", Rank: alerts.Digest, Hold: 6 * time.Hour, Linger: 2 * time.Hour,
		Find: findSilent, Say: alerts.SayProbeSilent}, err
}

var busKey = regexp.MustCompile(`(?m)^\s*bus\s*=\s*["']([^"']*)["']`)

// busOf names the wire a probe hangs on, as far as the file tells: its driver and the bus it names.
func busOf(driver table.Raw) string {
	if m := busKey.FindStringSubmatch(driver.Body); m != nil {
		return m[1]
	}
	return cmp.Or(driver.Name, "import")
}

type silentBus struct {
	name   string
	all    int
	silent []string
}

func findSilent(st *alerts.Standing, found func(alerts.Finding)) {
	var buses []silentBus
	any := false
	for i := range st.Probes {
		any = any || st.Probes[i].Silent
	}
	if !any {
		return
	}
	for i := range st.Probes {
		p := &st.Probes[i]
		name, k := busOf(p.Probe.Source), 0
		for k < len(buses) && buses[k].name != name {
			k++
		}
		if k == len(buses) {
			buses = append(buses, silentBus{name: name})
		}
		buses[k].all++
		if p.Silent {
			buses[k].silent = append(buses[k].silent, string(p.Probe.ID))
		}
	}
	for _, b := range buses {
		if len(b.silent) > 0 {
			found(alerts.Finding{Subject: "bus-" + b.name, Ripe: 1, Level: 1, Facts: alerts.Facts{Word: b.name, Count: b.all, Names: b.silent}})
		}
	}
}
