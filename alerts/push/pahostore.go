package push

import "github.com/eclipse/paho.mqtt.golang/packets"

// forgettingStore keeps nothing. The journal is our queue: a publication whose connection was lost is published again from
// there. With a store the library would send its own copy after a reconnect as well, possibly after newer states, and a file
// store panics on a full card.
type forgettingStore struct{}

func (forgettingStore) Open()                             {}
func (forgettingStore) Put(string, packets.ControlPacket) {}
func (forgettingStore) Get(string) packets.ControlPacket  { return nil }
func (forgettingStore) All() []string                     { return nil }
func (forgettingStore) Del(string)                        {}
func (forgettingStore) Close()                            {}
func (forgettingStore) Reset()                            {}
