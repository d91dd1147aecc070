package poll

import (
	"slices"
	"sync"
	"time"

	"lathwatch/sensors"
)

// A BusCount is how a bus has done since the start.
type BusCount struct {
	Name     string
	Chips    int
	Asked    uint64    // probes asked, once each a visit
	Failed   uint64    // of them, those that gave no answer or one that could not be read
	Answered time.Time // when a probe on it last gave a reading; zero: never
	Down     int       // chips that gave nothing at the last visit
	Listens  bool      // its chips speak when they like
}

// Buses tells how every bus has done, in the order of the roster.
func (p *Poller) Buses() []BusCount {
	list := make([]BusCount, len(p.buses))
	for i, b := range p.buses {
		list[i] = b.count.now(b.name, len(b.slots))
		list[i].Listens = !slices.ContainsFunc(b.slots, func(s *slot) bool { return !s.wishes[0].Waits })
	}
	return list
}

// counts are kept by a bus's worker and read by anybody.
type counts struct {
	mu sync.Mutex
	BusCount
}

func (c *counts) now(name string, chips int) BusCount {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := c.BusCount
	n.Name, n.Chips = name, chips
	return n
}

// visited counts a round's visit.
func (c *counts) visited(r result, down int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	failed := map[sensors.ProbeID]bool{}
	for _, f := range r.faults {
		if f.Kind == sensors.Silent || f.Kind == sensors.Garbled {
			failed[f.Probe] = true
		}
	}
	c.Asked += uint64(len(r.readings) + len(r.faults))
	c.Failed += uint64(len(failed))
	c.Down = down
	if len(r.readings) > 0 {
		c.Answered = time.Now()
	}
}
