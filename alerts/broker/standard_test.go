package broker

import (
	"bytes"
	"encoding/hex"
	"testing"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"lathwatch/sensors/checks"
)

// The broker inside is a library's. These hold the library we build with, and our guard before it, against the standard
// (MQTT 3.1.1, OASIS 2014).

func TestRemainingLengthsAreTheStandards(t *testing.T) {
	var in struct{ N []int }
	checks.Input(t, "pr-mqtt-vbi", &in)
	var got []string
	for _, n := range in.N {
		var b bytes.Buffer
		(&packets.FixedHeader{Type: packets.Publish, Remaining: n}).Encode(&b)
		got = append(got, hex.EncodeToString(b.Bytes()[1:]))
	}
	checks.Is(t, "pr-mqtt-vbi", got)
}

func TestFiltersMatchTopicsAsTheStandardSays(t *testing.T) {
	var in struct {
		Pairs [][2]string `json:"filter_topic"`
	}
	checks.Input(t, "pr-mqtt-match", &in)
	var got []bool
	for _, p := range in.Pairs {
		x := mqtt.NewTopicsIndex()
		x.Subscribe("reader", packets.Subscription{Filter: p[0]})
		got = append(got, len(x.Subscribers(p[1]).Subscriptions) > 0)
	}
	checks.Is(t, "pr-mqtt-match", got)
}

func TestOnlyFiltersOfTheStandardAreTaken(t *testing.T) {
	var in struct{ Good, Bad []string }
	checks.Input(t, "pr-mqtt-valid", &in)
	valid := func(filters []string) (got []bool) {
		for _, f := range filters {
			got = append(got, mqtt.IsValidFilter(f, false) && validFilter(f))
		}
		return got
	}
	checks.Is(t, "pr-mqtt-valid", map[string][]bool{"good": valid(in.Good), "bad": valid(in.Bad)})
}
