package push_test

import (
	"fmt"
	"slices"
	"sync"
)

// pages is a broker inside that only remembers what was published.
type pages struct {
	mu  sync.Mutex
	out []string
	now map[string]string
}

func (p *pages) Publish(topic string, payload []byte, retain bool, qos byte) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.now == nil {
		p.now = map[string]string{}
	}
	p.now[topic] = string(payload)
	p.out = append(p.out, fmt.Sprintf("%s qos=%d retain=%t %s", topic, qos, retain, payload))
	return nil
}

func (p *pages) Subscribe(string, func(string, []byte, bool)) error { return nil }
func (p *pages) Asks() bool                                         { return true }

func (p *pages) last(topic string) string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now[topic]
}

func (p *pages) all() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.out)
}
