package push

import (
	"context"
	"crypto/tls"
	"errors"
	"net/url"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

const (
	keepAlive     = 30 * time.Second
	longestPause  = 30 * time.Second // between tries to reconnect; the library's own default is 10 min
	retryPause    = 5 * time.Second  // between tries to connect for the first time
	maxOrphans    = 1000             // publications lost with their connection: their packet ids stay taken
	farewellLimit = 2 * time.Second
)

// pahoWire holds a connection to an outside broker.
type pahoWire struct {
	set      mqttSettings
	password string
	trust    *tls.Config
	status   string // topic of the last will; empty: none
	env      Env
}

func (w *pahoWire) where() string { return w.set.address() }

func (w *pahoWire) run(ctx context.Context, serve func(context.Context, link) error) {
	watch := newWatch(w.env, w.where())
	var p patience
	for ctx.Err() == nil {
		began := time.Now()
		w.client(ctx, watch, serve)
		if time.Since(began) > longestWait {
			p.rest()
		}
		p.wait(ctx, 0)
	}
}

// client lives as long as one client object of the library: until ctx ends or it is worn out. The library reconnects by itself.
func (w *pahoWire) client(ctx context.Context, watch *watch, serve func(context.Context, link) error) {
	c := &pahoClient{parent: ctx, wait: w.set.Wait.Duration(), links: make(chan *pahoLink, 1), watch: watch}
	opts := w.options(w.set.ClientID)
	if w.status != "" {
		opts.SetWill(w.status, "offline", 1, true)
	}
	opts.SetOnConnectHandler(func(mqtt.Client) { c.up() })
	opts.SetConnectionLostHandler(func(_ mqtt.Client, err error) { c.lost(err) })
	opts.SetConnectionNotificationHandler(func(_ mqtt.Client, n mqtt.ConnectionNotification) {
		if f, ok := n.(mqtt.ConnectionNotificationFailed); ok {
			watch.failed(f.Reason)
		}
	})
	c.mqtt = mqtt.NewClient(opts)
	c.mqtt.Connect() // with ConnectRetry the token is done only once connected: up tells us
	defer c.mqtt.Disconnect(250)
	for {
		select {
		case <-ctx.Done():
			w.farewell(c.mqtt)
			return
		case l := <-c.links:
			err := serve(l.ctx, l)
			l.end()
			if ctx.Err() == nil && (errors.Is(err, errNoReply) || c.worn() || c.wedged()) {
				return
			}
		}
	}
}

// farewell says offline as the last will would, which the broker does not publish after a proper goodbye.
func (w *pahoWire) farewell(c mqtt.Client) {
	if w.status == "" || !c.IsConnectionOpen() {
		return
	}
	t := c.Publish(w.status, 1, true, "offline")
	select {
	case <-t.Done():
	case <-time.After(farewellLimit):
	}
}

func (w *pahoWire) options(id string) *mqtt.ClientOptions {
	opts := mqtt.NewClientOptions()
	u, _ := url.Parse(w.set.address())
	opts.Servers = []*url.URL{u}
	opts.SetClientID(id).SetProtocolVersion(4).SetCleanSession(true).SetStore(forgettingStore{})
	opts.SetConnectRetry(true).SetConnectRetryInterval(retryPause).SetAutoReconnect(true).SetMaxReconnectInterval(longestPause)
	opts.SetKeepAlive(keepAlive).SetPingTimeout(10 * time.Second).SetConnectTimeout(20 * time.Second)
	opts.SetWriteTimeout(w.set.Wait.Duration()).SetOrderMatters(true).SetResumeSubs(false)
	if w.set.User != "" {
		opts.SetUsername(w.set.User).SetPassword(w.password)
	}
	if w.trust != nil {
		opts.SetTLSConfig(w.trust)
	}
	return opts
}

// once connects with an id of its own, so that a test send does not push the daemon off the broker.
func (w *pahoWire) once(ctx context.Context, p publication) error {
	opts := w.options(w.set.ClientID + "-test")
	opts.SetConnectRetry(false).SetAutoReconnect(false)
	c := mqtt.NewClient(opts)
	defer c.Disconnect(250)
	if err := await(ctx, c.Connect(), w.set.Wait.Duration()+opts.ConnectTimeout); err != nil {
		return err
	}
	return await(ctx, c.Publish(p.topic, p.qos, p.retain, p.payload), w.set.Wait.Duration())
}

// await selects on Done: the library's WaitTimeout may miss a token that is already done, and its Wait may never return.
func await(ctx context.Context, t mqtt.Token, limit time.Duration) error {
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case <-t.Done():
		return t.Error()
	case <-timer.C:
		return errNoReply
	case <-ctx.Done():
		return ctx.Err()
	}
}
