package mqtt

import "github.com/eclipse/paho.mqtt.golang/packets"

// noStore is the client library's store of a Subscriber: it keeps nothing. What is
// not acknowledged is kept by the broker, and a subscriber sends nothing that would
// have to be sent again; subscriptions are made anew on each connection. The
// library's own store would hold every message whose PUBACK it did not write
// itself.
type noStore struct{}

func (noStore) Open()                             {}
func (noStore) Put(string, packets.ControlPacket) {}
func (noStore) Get(string) packets.ControlPacket  { return nil }
func (noStore) All() []string                     { return nil }
func (noStore) Del(string)                        {}
func (noStore) Close()                            {}
func (noStore) Reset()                            {}
