package drivers

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"time"

	"lathwatch/sensors"
)

const (
	waitingRoom = 64               // messages kept between two rounds
	memory      = 64               // repeats remembered
	ahead       = 2 * time.Minute  // a probe's clock may be this fast
	recentRound = 5 * time.Minute  // when the time between rounds is not told
	firstYear   = 1_577_836_800    // 2020-01-01: nothing was measured before
	slowest     = 90 * time.Minute // no round is later than this
)

// mqttSource listens on one topic for all probes that arrive there.
type mqttSource struct {
	env    Env
	topic  string
	wishes []Wish
	heard  []mqttHeard // beside wishes

	mu       sync.Mutex
	waiting  []Arrival
	lost     int
	rejected int
	closed   bool
	late     []sensors.LateReading
}

// mqttHeard is what is known of one probe.
type mqttHeard struct {
	at      time.Time // when something last came, or listening began
	stored  string    // a retained value of unknown age
	repeats []string
}

func openMQTT(env Env, wishes []Wish) (Source, error) {
	if env.Topics == nil {
		return nil, errors.New("listening for probes over MQTT: no broker is configured")
	}
	s := &mqttSource{env: env, wishes: wishes, topic: wishes[0].Of.(mqttWish).Topic, heard: make([]mqttHeard, len(wishes))}
	for i := range s.heard {
		s.heard[i].at = time.Now()
	}
	return s, env.Topics.Subscribe(s.topic, s.enqueue)
}

// Close stops listening; the subscription is the broker connection's.
func (s *mqttSource) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed, s.waiting = true, nil
	return nil
}

// enqueue runs on the connection's own goroutine and must not wait: a handler that blocks holds up every other topic. When
// the room is full the oldest goes, since only the newest is used.
func (s *mqttSource) enqueue(a Arrival) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return
	}
	if len(s.waiting) == waitingRoom {
		s.waiting = slices.Delete(s.waiting, 0, 1)
		s.lost++
	}
	if len(a.Payload) > maxPayload {
		a.Payload = a.Payload[:maxPayload+1]
	}
	a.Payload = slices.Clone(a.Payload)
	s.waiting = append(s.waiting, a)
}

// Poll takes what arrived since the last round: of each probe the newest.
func (s *mqttSource) Poll(context.Context) ([]sensors.Reading, []sensors.Fault) {
	s.mu.Lock()
	arrivals, lost := s.waiting, s.lost
	s.waiting, s.lost = nil, 0
	s.mu.Unlock()
	if lost > 0 {
		s.log().Warn("messages dropped between two rounds", "topic", s.topic, "dropped", lost)
		s.env.notice(mqttBus, "topic %s sends faster than it is read: only the newest count", s.topic)
	}
	read := make([]payload, len(arrivals))
	for i, a := range arrivals {
		read[i] = readPayload(a.Payload)
	}
	var rs []sensors.Reading
	var fs []sensors.Fault
	for i := range s.wishes {
		r, f := s.sort(&s.heard[i], s.wishes[i], arrivals, read)
		if r != nil {
			rs = append(rs, *r)
		} else if f != nil {
			fs = append(fs, *f)
		}
	}
	return rs, fs
}

// Late hands over readings with their own, earlier time.
func (s *mqttSource) Late() []sensors.LateReading {
	late := s.late
	s.late = nil
	return late
}

// sort puts one probe's messages where they belong: the newest live one is the round's, those with an older time of their own
// are late, a retained one without a time is only the last known.
func (s *mqttSource) sort(h *mqttHeard, wish Wish, arrivals []Arrival, read []payload) (*sensors.Reading, *sensors.Fault) {
	of := wish.Of.(mqttWish)
	now := time.Now()
	var newest *sensors.LateReading
	var trouble error
	for i, a := range arrivals {
		if len(a.Payload) == 0 { // a retained message being cleared says nothing
			continue
		}
		l, stored, err := s.one(h, wish, of, a, read[i], now)
		switch {
		case err != nil:
			trouble = err
			s.rejected++
			s.log().Warn("payload refused", "topic", s.topic, "probe", wish.Probe, "why", err, "refused", s.rejected)
		case stored != "":
			h.stored = stored
		case l == nil:
		case now.Sub(l.At) > s.fresh(wish):
			h.at = now
			s.late = append(s.late, *l)
		case newest == nil || !l.At.Before(newest.At):
			h.at, newest, trouble = now, l, nil
		}
	}
	if newest != nil {
		return &newest.Reading, nil
	}
	if trouble != nil {
		f := faultOf(wish.Probe, trouble)
		return nil, &f
	}
	return nil, s.silence(h, wish, now)
}

// one reads a message for one probe; nil without error: it is not to be counted.
func (s *mqttSource) one(h *mqttHeard, wish Wish, of mqttWish, a Arrival, p payload, now time.Time) (*sensors.LateReading, string, error) {
	raw, err := of.value(p)
	if err != nil {
		return nil, "", err
	}
	r := sensors.Reading{Probe: wish.Probe, Raw: raw, Step: of.step}
	if ans := plausible(answer{raw: raw, step: of.step}); ans.err != nil {
		return nil, "", ans.err
	}
	at := a.At
	if of.Time != "" {
		if at, err = of.stamp(p); err != nil {
			return nil, "", err
		}
		if at.After(now.Add(ahead)) || at.Unix() < firstYear {
			return nil, "", implausible("its clock says %s", at.Format(time.RFC3339))
		}
		if s.env.After != nil && a.Retained && !at.After(s.env.After(wish.Probe)) {
			return nil, "", nil
		}
	} else if a.Retained {
		return nil, r.Unit().Format(r.Whole()), nil
	}
	if h.repeat(of, p, at) {
		return nil, "", nil
	}
	return &sensors.LateReading{At: at, Reading: r}, "", nil
}

// repeat remembers a message and reports whether it came before.
func (h *mqttHeard) repeat(of mqttWish, p payload, at time.Time) bool {
	key := of.same(p)
	if key == "" && of.Time != "" {
		key = at.Format(time.RFC3339Nano)
	}
	if key == "" {
		return false
	}
	if slices.Contains(h.repeats, key) {
		return true
	}
	if len(h.repeats) == memory {
		h.repeats = slices.Delete(h.repeats, 0, 1)
	}
	h.repeats = append(h.repeats, key)
	return false
}

// silence is the fault of a probe from which nothing has come for three times its usual spacing.
func (s *mqttSource) silence(h *mqttHeard, wish Wish, now time.Time) *sensors.Fault {
	if now.Sub(h.at) <= 3*max(wish.Every, s.every()) {
		return nil
	}
	why := "nothing heard"
	if h.stored != "" {
		why += "; last known " + h.stored + ", age unknown"
	}
	return &sensors.Fault{Probe: wish.Probe, Kind: sensors.Silent, Why: why}
}

// fresh is how old a message's own time may be for it to be the round's.
func (s *mqttSource) fresh(wish Wish) time.Duration {
	return min(max(wish.Every, s.every()), slowest)
}

func (s *mqttSource) every() time.Duration { return cmp.Or(s.env.Every, recentRound) }

func (s *mqttSource) log() *slog.Logger { return cmp.Or(s.env.Log, slog.New(slog.DiscardHandler)) }
