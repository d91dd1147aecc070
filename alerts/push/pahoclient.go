package push

import (
	"context"
	"errors"
	"sync"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// pahoClient is one client object and the connection it has now. The library calls up and lost from goroutines of their own,
// in no certain order.
type pahoClient struct {
	parent context.Context
	mqtt   mqtt.Client
	wait   time.Duration
	links  chan *pahoLink // the newest connection, not yet served
	watch  *watch

	mu      sync.Mutex // guards what follows
	now     *pahoLink
	orphans int
}

func (c *pahoClient) up() {
	c.watch.up()
	ctx, end := context.WithCancel(c.parent)
	l := &pahoLink{client: c, ctx: ctx, end: end}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.now != nil {
		c.now.end()
	}
	c.now = l
	select {
	case <-c.links: // one that came and went unserved
	default:
	}
	c.links <- l
}

// lost ends the connection it was called for. It may run late, when the next one already stands: so it notes which connection
// is the newest first and asks whether that one is open afterwards.
func (c *pahoClient) lost(err error) {
	c.mu.Lock()
	l := c.now
	c.mu.Unlock()
	if l == nil || c.mqtt.IsConnectionOpen() {
		return
	}
	l.end()
	c.watch.lost(err)
}

func (c *pahoClient) orphan() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.orphans++
}

// wedged reports a connection that stands although its link was given up: no new one will be announced.
func (c *pahoClient) wedged() bool { return len(c.links) == 0 && c.mqtt.IsConnectionOpen() }

// worn reports that too many packet ids are taken for ever.
func (c *pahoClient) worn() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.orphans >= maxOrphans
}

// pahoLink is one connection.
type pahoLink struct {
	client *pahoClient
	ctx    context.Context
	end    context.CancelFunc
}

func (l *pahoLink) publish(ctx context.Context, ps ...publication) error {
	tokens := make([]mqtt.Token, 0, len(ps))
	for _, p := range ps {
		if l.ctx.Err() != nil || !l.client.mqtt.IsConnectionOpen() {
			return errLost // nothing is handed to a client that is offline: it would queue or drop it without a word
		}
		tokens = append(tokens, l.client.mqtt.Publish(p.topic, p.qos, p.retain, p.payload))
	}
	for _, t := range tokens {
		if err := l.await(ctx, t); err != nil {
			return err
		}
	}
	return nil
}

func (l *pahoLink) await(ctx context.Context, t mqtt.Token) error {
	timer := time.NewTimer(l.client.wait)
	defer timer.Stop()
	select {
	case <-t.Done():
	case <-l.ctx.Done():
		l.client.orphan()
		return errLost
	case <-timer.C:
		l.client.orphan()
		return errNoReply
	case <-ctx.Done():
		return ctx.Err()
	}
	if err := t.Error(); err != nil {
		return errors.Join(errLost, err)
	}
	// A token may be completed by the connection's end as well as by the broker: only one on a connection that still stands counts.
	if l.ctx.Err() != nil || !l.client.mqtt.IsConnectionOpen() {
		return errLost
	}
	return nil
}

func (l *pahoLink) subscribe(ctx context.Context, filter string, handle func(string, []byte, bool)) error {
	t := l.client.mqtt.Subscribe(filter, 1, func(_ mqtt.Client, m mqtt.Message) { handle(m.Topic(), m.Payload(), m.Retained()) })
	if err := l.await(ctx, t); err != nil {
		return err
	}
	if st, ok := t.(*mqtt.SubscribeToken); ok {
		if code, told := st.Result()[filter]; told && code > 2 { // the SUBACK's 0x80
			return errDenied
		}
	}
	return nil
}
