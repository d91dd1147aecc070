package broker

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"lathwatch/alerts/push"
)

// missDelay is how long a wrong password waits for its answer.
const missDelay = time.Second

// guard decides who comes in and what they may do. What it does not know it denies.
type guard struct {
	mqtt.HookBase
	user   string
	hash   *hash // nil: no password is set, and nobody may publish
	inlets []string
	delay  time.Duration

	checking sync.Mutex // one password at a time: each check takes memory on a small board
	// scan keeps a new reader's walk over the retained topics apart from their changes: the library reads the topics' names
	// without the lock it writes them under.
	scan sync.Mutex
}

func newGuard(cfg Config) (*guard, error) {
	g := &guard{user: cfg.User, delay: missDelay, inlets: append([]string{push.Topics{Site: cfg.Site}.Note()}, cfg.Inlets...)}
	secret, err := push.Secret(cfg.PasswordFile)
	if err != nil {
		return nil, err
	}
	switch {
	case secret == "" && !push.Loopback(cfg.Listen):
		return nil, fmt.Errorf("the broker is to listen on %s, which the LAN can reach, without a password: write user and password-file under [broker], or listen = %q", cfg.Listen, defaultListen)
	case secret == "":
		return g, nil
	case cfg.User == "":
		return nil, errors.New("the broker has a password but no user: write user under [broker]")
	}
	g.hash, err = readHash(secret)
	return g, err
}

// ID names the hook in the log.
func (g *guard) ID() string { return "guard" }

// Provides lists what the guard decides.
func (g *guard) Provides(b byte) bool {
	return bytes.Contains([]byte{mqtt.OnConnectAuthenticate, mqtt.OnACLCheck, mqtt.OnPublish, mqtt.OnSubscribe, mqtt.OnPacketProcessed, mqtt.OnPublishDropped}, []byte{b})
}

// OnConnectAuthenticate lets in who gives the password, and who comes from this board and gives none.
func (g *guard) OnConnectAuthenticate(cl *mqtt.Client, pk packets.Packet) bool {
	if cl.ID == mqtt.InlineClientId {
		return false // the daemon's own client: taking its session over would silence it
	}
	cl.Properties.Will = mqtt.Will{} // a last will would be published without asking what its client may publish: none is taken
	return g.admit(cl, pk) || len(pk.Connect.Username) == 0 && len(pk.Connect.Password) == 0 && local(cl.Net.Remote)
}

// admit checks name and password; either way it takes as long.
func (g *guard) admit(cl *mqtt.Client, pk packets.Packet) bool {
	if g.hash == nil || len(pk.Connect.Username) == 0 && len(pk.Connect.Password) == 0 {
		return false
	}
	g.checking.Lock()
	right := g.hash.matches(pk.Connect.Password)
	g.checking.Unlock()
	if right && same(pk.Connect.Username, []byte(g.user)) {
		return true
	}
	time.Sleep(g.delay)
	return false
}

// OnACLCheck lets everybody who is in read our topics, and those with the password publish to the inlets.
func (g *guard) OnACLCheck(cl *mqtt.Client, topic string, write bool) bool {
	if strings.HasPrefix(topic, "$") {
		return false
	}
	if !write {
		return validFilter(topic)
	}
	return g.hash != nil && same(cl.Properties.Username, []byte(g.user)) && g.mayPublish(topic)
}

func (g *guard) mayPublish(topic string) bool {
	if topic == "" || strings.Contains(topic, "\x00") { // no name of a topic (MQTT 3.1.1 section 4.7.3), whatever an inlet covers
		return false
	}
	for _, f := range g.inlets {
		if covers(f, topic) {
			return true
		}
	}
	return false
}

// OnPublish takes what a client publishes as news: only the daemon's own states are retained.
func (g *guard) OnPublish(cl *mqtt.Client, pk packets.Packet) (packets.Packet, error) {
	if !cl.Net.Inline {
		pk.FixedHeader.Retain = false
	}
	return pk, nil
}

// OnSubscribe begins a reader's walk over the retained topics; OnPacketProcessed follows it in every case.
func (g *guard) OnSubscribe(cl *mqtt.Client, pk packets.Packet) packets.Packet {
	if !cl.Net.Inline {
		g.scan.Lock()
	}
	return pk
}

// OnPacketProcessed ends the walk.
func (g *guard) OnPacketProcessed(cl *mqtt.Client, pk packets.Packet, _ error) {
	if pk.FixedHeader.Type == packets.Subscribe && !cl.Net.Inline {
		g.scan.Unlock()
	}
}

// OnPublishDropped ends the connection of a reader too slow to take what is sent: when it comes back it gets every state anew.
func (g *guard) OnPublishDropped(cl *mqtt.Client, _ packets.Packet) {
	if c, ok := cl.Net.Conn.(*client); ok {
		c.discard()
	}
	go cl.Stop(packets.ErrPendingClientWritesExceeded)
}

// local reports whether a connection comes from this board.
func local(remote string) bool {
	host, _, err := net.SplitHostPort(remote)
	ip := net.ParseIP(host)
	return err == nil && ip != nil && ip.IsLoopback()
}

// covers reports whether a topic filter covers a topic (MQTT 3.1.1, section 4.7). A topic with a wildcard is never covered.
func covers(filter, topic string) bool {
	if strings.ContainsAny(topic, "+#") {
		return false
	}
	f, t := strings.Split(filter, "/"), strings.Split(topic, "/")
	for i, part := range f {
		if part == "#" {
			return true
		}
		if i >= len(t) || part != "+" && part != t[i] {
			return false
		}
	}
	return len(f) == len(t)
}
