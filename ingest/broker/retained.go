package broker

import (
	"bytes"
	"sync"
	"sync/atomic"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"flitch/ingest"
)

// retained is the last message of each topic that was published to be kept, until
// another takes its place. It stands in for the library's own, which is read without
// the lock it is written with (mochi-mqtt/server, issue 200), ends after a day, and may
// hand an old message to a new subscriber after a newer one.
type retained struct {
	mu    sync.RWMutex
	index *mochi.TopicsIndex
	room  int    // bytes that may still be kept
	full  func() // told when something is not kept for want of room
}

// Bounds of what is kept, proposals: the state of every thing in a house, and some
// hundred kilobytes of a picture that somebody publishes so.
const (
	keptRoom     = 16 << 20 // bytes, topics and payloads
	keptOverhead = 256      // of each message besides
	keptLevel    = 640      // of each level of its topic: a place in the library's tree, with its four maps (measured: TestALevelTakesNoMoreThanItCounts)
)

func newRetained(room int, full func()) *retained {
	return &retained{index: mochi.NewTopicsIndex(), room: room, full: full}
}

// needs is how much room a message takes; one without payload takes none.
func needs(pk packets.Packet) int {
	if len(pk.Payload) == 0 {
		return 0
	}
	return len(pk.TopicName) + len(pk.Payload) + keptOverhead + levels(pk.TopicName)*keptLevel
}

// keep returns the message for the library to pass on and not to keep. One without
// payload ends what was kept.
func (r *retained) keep(pk packets.Packet) packets.Packet { return r.put(pk, false) }

// put is keep; what flitch itself says is kept whether or not there is room.
func (r *retained) put(pk packets.Packet, own bool) packets.Packet {
	if !pk.FixedHeader.Retain {
		return pk
	}
	kept := pk.Copy(false)
	kept.Expiry = 0
	pk.FixedHeader.Retain = false
	r.mu.Lock()
	before, _ := r.index.Retained.Get(kept.TopicName)
	room := r.room + needs(before) - needs(kept)
	fits := own || room >= 0
	if !fits { // what was kept is no longer true, and would pass for it
		kept.Payload = nil
		room = r.room + needs(before)
	}
	r.room = room
	r.index.RetainMessage(kept)
	r.mu.Unlock()
	if !fits {
		r.full()
	}
	return pk
}

func (r *retained) matching(filter string) []packets.Packet {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return r.index.Messages(filter)
}

// payload is nil when nothing is kept on the topic.
func (r *retained) payload(topic string) []byte {
	r.mu.RLock()
	defer r.mu.RUnlock()
	pk, _ := r.index.Retained.Get(topic)
	return pk.Payload
}

// all returns what is kept.
func (r *retained) all() (kept []Kept) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	for topic, pk := range r.index.Retained.GetAll() {
		kept = append(kept, Kept{topic, pk.Payload, pk.FixedHeader.Qos})
	}
	return kept
}

// A Kept is a message that is kept for later subscribers.
type Kept struct {
	Topic   string
	Payload []byte
	QoS     byte
}

// packet is the message as it was published.
func (k Kept) packet() packets.Packet {
	return packets.Packet{FixedHeader: packets.FixedHeader{Type: packets.Publish, Retain: true, Qos: k.QoS}, TopicName: k.Topic, Payload: k.Payload}
}

// Kept returns what the broker keeps for later subscribers, without what flitch itself
// says, which is said anew after each start.
func (b *Broker) Kept() (kept []Kept) {
	for _, k := range b.hook.retained.all() {
		if !b.conf.isOwn(k.Topic) {
			kept = append(kept, k)
		}
	}
	return kept
}

// recall hands to the intake what was kept before the start and somebody reads: what a
// device once said of itself it does not say again before it connects anew.
func (h *hook) recall() {
	for _, k := range h.conf.Kept {
		if !h.intake.Reads(k.Topic) {
			continue
		}
		if err := h.intake.Submit(h.ctx, ingest.Message{Topic: k.Topic, Payload: k.Payload, Retained: true}); err != nil {
			return // it stops
		}
	}
}

// publish passes a message on, and keeps it if it is to be kept. It never blocks: a
// subscriber whose queue is full misses it.
func (h *hook) publish(topic string, payload []byte, keep bool, qos byte) error {
	h.retained.put(packets.Packet{
		FixedHeader: packets.FixedHeader{Type: packets.Publish, Retain: keep, Qos: qos},
		TopicName:   topic, Payload: payload,
	}, h.conf.isOwn(topic))
	return h.server.Publish(topic, payload, false, qos)
}

// OnWill lets a last will be kept, too. A will is not asked for its rights by the
// library: one that its user may not say is dropped.
func (h *hook) OnWill(cl *mochi.Client, will mochi.Will) (mochi.Will, error) {
	if !h.rights.publish(string(cl.Properties.Username), will.TopicName) {
		return mochi.Will{}, nil
	}
	h.retained.keep(packets.Packet{
		FixedHeader: packets.FixedHeader{Type: packets.Publish, Retain: will.Retain, Qos: will.Qos},
		TopicName:   will.TopicName, Payload: will.Payload,
	})
	will.Retain = false
	return will, nil
}

// OnWillSent hands a last will to the intake, if somebody reads its topic: it tells that
// a device is gone. Whoever sent it cannot send it again, so that it waits for room.
func (h *hook) OnWillSent(_ *mochi.Client, pk packets.Packet) {
	if !h.intake.Reads(pk.TopicName) {
		return
	}
	if err := h.intake.Submit(h.ctx, ingest.Message{Topic: pk.TopicName, Payload: pk.Payload}); err != nil && h.ctx.Err() == nil {
		h.server.Log.Warn("a last will is not taken", "topic", pk.TopicName, "error", err)
	}
}

// OnPacketProcessed sends what is kept to a new subscriber.
func (h *hook) OnPacketProcessed(cl *mochi.Client, pk packets.Packet, err error) {
	if pk.FixedHeader.Type != packets.Subscribe || err != nil {
		return
	}
	for _, sub := range pk.Filters {
		_, granted := cl.State.Subscriptions.Get(sub.Filter)
		if granted && !mochi.IsSharedFilter(sub.Filter) && sub.RetainHandling != 2 && h.greet(cl, sub) != nil {
			return // the connection is over
		}
	}
}

// greet may be passed by a newer message, so a topic that has changed meanwhile is sent
// once more: the last that arrives is the newest.
func (h *hook) greet(cl *mochi.Client, sub packets.Subscription) error {
	for _, pk := range h.retained.matching(sub.Filter) {
		for sent := []byte(nil); !bytes.Equal(sent, pk.Payload); pk.Payload = h.retained.payload(pk.TopicName) {
			sent = pk.Payload
			if err := h.sendKept(cl, sub, pk); err != nil {
				return err
			}
		}
	}
	return nil
}

// sendKept writes one message as the library would (MQTT 3.1.1, 3.3.1.3 and 3.8.4).
func (h *hook) sendKept(cl *mochi.Client, sub packets.Subscription, pk packets.Packet) error {
	pk = pk.Copy(false)
	pk.FixedHeader.Retain = true
	pk.FixedHeader.Qos = min(pk.FixedHeader.Qos, sub.Qos)
	if sub.Identifier > 0 {
		pk.Properties.SubscriptionIdentifier = []int{sub.Identifier}
	}
	if pk.FixedHeader.Qos > 0 {
		id, err := cl.NextPacketID()
		if err != nil {
			return err
		}
		pk.PacketID = uint16(id)
		cl.State.Inflight.Set(pk)
		cl.State.Inflight.DecreaseSendQuota()
		atomic.AddInt64(&h.server.Info.Inflight, 1)
	}
	return cl.WritePacket(pk)
}
