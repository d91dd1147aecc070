package daemon

import (
	"fmt"
	"hash/fnv"
	"math"
	"os"
	"runtime"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// truthBook keeps what was true of each pot and place, day by day, so that a message the twin did not give can be held against it.
type truthBook struct {
	zone *time.Location
	days map[string][]dayTruth // by pot
	air  map[string][]float64  // by place: lowest air of the UTC day
	from time.Time
}

type dayTruth struct {
	low, high, core float64 // share of drained-full, lowest and highest; lowest core °C
	dry, wet        float64 // what a sound probe makes of it, with its usual error
	rest            bool
}

func (b *truthBook) begin(g *garden.Garden) {
	b.zone, b.days, b.air = g.Site.Zone, map[string][]dayTruth{}, map[string][]float64{}
}

func (b *truthBook) day(at time.Time) int { return int(at.Sub(b.from) / aDay) }

// take looks once an hour.
func (b *truthBook) take(f *faultYear) {
	if f.now.Minute() != 0 {
		return
	}
	if b.from.IsZero() {
		b.from = f.now.Truncate(aDay)
	}
	n := b.day(f.now)
	live := f.twin.fold.Live()
	for i := range f.garden.Pots {
		id := f.garden.Pots[i].ID
		tr, _ := f.model.Truth(id)
		for len(b.days[id]) <= n {
			b.days[id] = append(b.days[id], dayTruth{low: 9, core: 99, dry: 9})
		}
		d := &b.days[id][n]
		if p := &live.Pots[i]; p.WetnessOK {
			d.dry, d.wet = min(d.dry, float64(p.Wetness)/1000), max(d.wet, float64(p.Wetness)/1000)
		}
		d.low, d.high, d.core, d.rest = min(d.low, tr.Share), max(d.high, tr.Share), min(d.core, tr.Core), live.Pots[i].Phase == garden.Rest
	}
	for i := range f.garden.Places {
		id := f.garden.Places[i].ID
		for len(b.air[id]) <= n {
			b.air[id] = append(b.air[id], 99)
		}
		b.air[id][n] = min(b.air[id][n], f.model.Air(id))
	}
}

// supports says whether a message is true of a pot although the twin did not give it: within a probe's usual error (3 points, half a
// degree) the pot, or the night, is as it says.
func (b *truthBook) supports(g *garden.Garden, c alerts.Change, pot string) bool {
	p := g.Pot(pot)
	n := b.day(c.At)
	if p == nil || n >= len(b.days[pot]) {
		return false
	}
	d := b.days[pot][n]
	regime := g.Plant(p.Plant).Regime
	phase := garden.Growth
	if d.rest {
		phase = garden.Rest
	}
	cell := garden.RegimeNamed(regime).Cell(phase)
	switch c.Kind {
	case "water", "water-light", "sitter-water":
		return min(d.low, d.dry)*1000 < float64(cell.Low)+30 || c.Kind == "water" && b.dueSoon(pot, n, float64(cell.Low)+30) &&
			slices.ContainsFunc(c.Pots, func(other string) bool { return b.days[other][n].low*1000 < float64(cell.Low)+30 })
	case "too-wet", "drain-check":
		return max(d.high, d.wet)*1000 > float64(cell.High)-30
	case "root-cold":
		limit := map[garden.Tender]float64{garden.Hardy: -5, garden.NeverFreeze: 0.5}[g.Plant(p.Plant).Tender]
		if limit == 0 {
			limit = -3
		}
		if m := c.At.Month(); limit < 0 && m >= time.August && m <= time.November {
			limit += 3
		}
		return min(d.core, b.days[pot][max(n-1, 0)].core) < limit+2.5 && coldest(b, g, n, limit+0.5)
	case "frost-tonight":
		air := b.air[c.Place]
		return n+1 < len(air) && min(air[n], air[n+1])-2.5 < 0
	}
	return false
}

// dueSoon: a pot may be named with one that is dry when it will be so too within the six days of the rule (eight, for the probe's error)
// at the fastest pace of the last days.
func (b *truthBook) dueSoon(pot string, n int, low float64) bool {
	pace := 0.0 // a day
	for k := max(n-3, 1); k <= n; k++ {
		pace = max(pace, math.Log(b.days[pot][k-1].low/b.days[pot][k].low), math.Log(b.days[pot][k-1].high/b.days[pot][k].high))
	}
	return math.Log(1000*b.days[pot][n].low/low) <= 8*pace
}

// coldest: a pot near its limit may be named with another that is past it.
func coldest(b *truthBook, g *garden.Garden, n int, limit float64) bool {
	for i := range g.Pots {
		d := b.days[g.Pots[i].ID]
		if n < len(d) && min(d[n].core, d[max(n-1, 0)].core) < limit {
			return true
		}
	}
	return false
}

// account is what a run cost and what was handed in.
type account struct {
	begin    time.Time
	minutes  []uint64 // of rounds handed in, a bit a minute
	sum      uint64   // of what their readings said, whatever their order
	readings int
	rounds   int
	daemon   time.Duration // CPU of door, walk and journal
	nights   time.Duration
	harness  time.Duration
	bent     map[string]int // readings that a fault changed, or times it befell the board
	heap     []float64
	last     struct {
		bytes, copied, syncs int64
		rounds               int
		daemon, nights       time.Duration
	}
}

func (a *account) handed(at time.Time, rs []sensors.Reading) {
	if a.begin.IsZero() {
		a.begin = at
	}
	n := int(at.Sub(a.begin) / time.Minute)
	for n/64 >= len(a.minutes) {
		a.minutes = append(a.minutes, make([]uint64, 1024)...)
	}
	a.minutes[n/64] |= 1 << (n % 64)
	for i := range rs {
		a.sum += digestOf(at, &rs[i])
	}
	a.readings += len(rs)
}

func digestOf(at time.Time, r *sensors.Reading) uint64 {
	h := fnv.New64a()
	_, _ = h.Write([]byte(r.Probe))
	return (h.Sum64() ^ uint64(at.Unix())) * 0x9e3779b97f4a7c15 * (uint64(r.Raw)*2 + 1 + uint64(r.Quality)<<40)
}

// month says what memory and card look like now.
func (a *account) month(at time.Time, from time.Time) string {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	days := at.Sub(from).Hours() / 24
	n := max(a.rounds-a.last.rounds, 1)
	bytes, copied, syncs := card.bytes.Load(), card.copied.Load(), card.syncs.Load()
	a.heap = append(a.heap, float64(m.HeapAlloc)/(1<<20))
	line := fmt.Sprintf("%s  heap %5.1f MiB  resident %6.1f MiB  %6.0f µs CPU a round  %7.2f MB a day to the journal, %6.2f MB a day to copies, %5.0f syncs a day",
		at.Format("2006-01-02"), float64(m.HeapAlloc)/(1<<20), resident(), float64((a.daemon-a.last.daemon).Microseconds())/float64(n),
		float64(bytes-a.last.bytes)/1e6/days, float64(copied-a.last.copied)/1e6/days, float64(syncs-a.last.syncs)/days)
	a.last.bytes, a.last.copied, a.last.syncs, a.last.rounds, a.last.daemon, a.last.nights = bytes, copied, syncs, a.rounds, a.daemon, a.nights
	return line
}

// resident is the process's memory in RAM, MiB.
func resident() float64 {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return math.NaN()
	}
	for line := range strings.Lines(string(text)) {
		var kb float64
		if _, err := fmt.Sscanf(line, "VmRSS: %f kB", &kb); err == nil {
			return kb / 1024
		}
	}
	return math.NaN()
}
