package push_test

import (
	"net"
	"sync"
	"testing"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// fakeBroker is one that answers as a test says: answer gets each packet of a connection and returns what to send back.
type fakeBroker struct {
	l      net.Listener
	answer func(conn int, p packets.ControlPacket) []packets.ControlPacket
	wg     sync.WaitGroup

	mu    sync.Mutex // guards what follows
	conns []net.Conn
}

func newFakeBroker(t testing.TB, answer func(conn int, p packets.ControlPacket) []packets.ControlPacket) *fakeBroker {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b := &fakeBroker{l: l, answer: answer}
	b.wg.Go(b.accept)
	t.Cleanup(func() {
		l.Close()
		b.drop()
		b.wg.Wait()
	})
	return b
}

func (b *fakeBroker) address() string { return "mqtt://" + b.l.Addr().String() }

func (b *fakeBroker) accept() {
	for n := 0; ; n++ {
		c, err := b.l.Accept()
		if err != nil {
			return
		}
		b.mu.Lock()
		b.conns = append(b.conns, c)
		b.mu.Unlock()
		b.wg.Go(func() { b.talk(n, c) })
	}
}

func (b *fakeBroker) talk(n int, c net.Conn) {
	defer c.Close()
	for {
		p, err := packets.ReadPacket(c)
		if err != nil {
			return
		}
		for _, a := range b.answer(n, p) {
			if a.Write(c) != nil {
				return
			}
		}
	}
}

// drop closes every connection.
func (b *fakeBroker) drop() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, c := range b.conns {
		c.Close()
	}
	b.conns = nil
}

func connack(code byte) packets.ControlPacket {
	a := packets.NewControlPacket(packets.Connack).(*packets.ConnackPacket)
	a.ReturnCode = code
	return a
}

func puback(id uint16) packets.ControlPacket {
	a := packets.NewControlPacket(packets.Puback).(*packets.PubackPacket)
	a.MessageID = id
	return a
}

func suback(id uint16, codes ...byte) packets.ControlPacket {
	a := packets.NewControlPacket(packets.Suback).(*packets.SubackPacket)
	a.MessageID, a.ReturnCodes = id, codes
	return a
}

// politely answers every packet as a broker should.
func politely(_ int, p packets.ControlPacket) []packets.ControlPacket {
	switch p := p.(type) {
	case *packets.ConnectPacket:
		return []packets.ControlPacket{connack(0)}
	case *packets.PublishPacket:
		if p.Qos == 1 {
			return []packets.ControlPacket{puback(p.MessageID)}
		}
	case *packets.SubscribePacket:
		return []packets.ControlPacket{suback(p.MessageID, p.Qoss...)}
	case *packets.PingreqPacket:
		return []packets.ControlPacket{packets.NewControlPacket(packets.Pingresp)}
	}
	return nil
}

// proxy stands between the daemon and a real broker and can cut the line between a publication and its acknowledgement.
type proxy struct {
	l  net.Listener
	to string
	wg sync.WaitGroup
	// swallow is asked for each acknowledgement of a publication: true drops it and cuts the line.
	swallow func(topic string) bool

	mu     sync.Mutex // guards what follows
	topics map[uint16]string
}

func newProxy(t testing.TB, to string, swallow func(topic string) bool) *proxy {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{l: l, to: to, swallow: swallow, topics: map[uint16]string{}}
	p.wg.Go(p.accept)
	t.Cleanup(func() { l.Close() })
	return p
}

func (p *proxy) address() string { return "mqtt://" + p.l.Addr().String() }

func (p *proxy) accept() {
	for {
		c, err := p.l.Accept()
		if err != nil {
			return
		}
		up, err := net.Dial("tcp", p.to)
		if err != nil {
			c.Close()
			continue
		}
		p.wg.Go(func() { p.pass(c, up) })
		p.wg.Go(func() { p.pass(up, c) })
	}
}

func (p *proxy) pass(from, to net.Conn) {
	defer from.Close()
	defer to.Close()
	for {
		pk, err := packets.ReadPacket(from)
		if err != nil || p.cuts(pk) || pk.Write(to) != nil {
			return
		}
	}
}

func (p *proxy) cuts(pk packets.ControlPacket) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch pk := pk.(type) {
	case *packets.PublishPacket:
		p.topics[pk.MessageID] = pk.TopicName
	case *packets.PubackPacket:
		return p.swallow(p.topics[pk.MessageID])
	}
	return false
}
