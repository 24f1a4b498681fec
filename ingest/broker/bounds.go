package broker

import (
	"cmp"
	"errors"
	"slices"
	"strings"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// Bounds of what one client can make the library do and keep. Proposals, but for the levels.
const (
	mostLevels = 200      // of a topic, as mosquitto has it (TOPIC_HIERARCHY_LIMIT, from memory); the library walks a topic in the square of them
	mostTopic  = 4096     // bytes of a topic
	maxFilters = 256      // subscriptions of a client
	maxStored  = 64       // sessions of clients that are away
	mostQueued = 1024     // messages that wait for one client
	queuedRoom = 32 << 20 // bytes of those, of all clients
)

var errWillTopic = errors.New("the last will has a topic that nobody may publish on")

// levels of a topic or filter.
func levels(topic string) int { return strings.Count(topic, "/") + 1 }

// fits reports whether a topic or filter is of a size to be looked at.
func fits(topic string) bool { return len(topic) <= mostTopic && levels(topic) <= mostLevels }

// isTopic reports whether a client may publish on a topic at all (MQTT 3.1.1, 4.7).
func isTopic(topic string) bool {
	return topic != "" && fits(topic) && !strings.ContainsAny(topic, "+#\x00") && !strings.HasPrefix(topic, "$")
}

// tooDeep reports a packet with a topic or filter that does not fit.
func tooDeep(pk packets.Packet) bool {
	return !fits(pk.TopicName) || slices.ContainsFunc(pk.Filters, func(s packets.Subscription) bool { return !fits(s.Filter) })
}

// OnSubscribe refuses the filters that are one too many: the library answers each that is
// empty as one that it does not take, and the client keeps what it has.
func (h *hook) OnSubscribe(cl *mochi.Client, pk packets.Packet) packets.Packet {
	has := cl.State.Subscriptions.GetAll()
	filters := slices.Clone(pk.Filters)
	for i, sub := range filters {
		if _, there := has[sub.Filter]; there {
			continue
		}
		if len(has) >= h.conf.MaxFilters {
			filters[i].Filter = ""
			h.rights.crowded(cl.ID)
			continue
		}
		has[sub.Filter] = sub
	}
	pk.Filters = filters
	return pk
}

// OnClientExpired takes the subscriptions along, which the library leaves in its tree.
func (h *hook) OnClientExpired(cl *mochi.Client) { h.server.UnsubscribeClient(cl) }

// forget ends the session of a client and what waits for it.
func (h *hook) forget(cl *mochi.Client) {
	if now, ok := h.server.Clients.Get(cl.ID); ok && now == cl {
		h.server.UnsubscribeClient(cl)
		h.server.Clients.Delete(cl.ID)
	}
	cl.ClearInflights()
}

// boundStored ends the sessions of those who are away the longest, until few enough are left.
func (h *hook) boundStored() {
	var away []*mochi.Client
	for _, cl := range h.server.Clients.GetAll() {
		if !cl.Net.Inline && cl.Closed() {
			away = append(away, cl)
		}
	}
	if len(away) <= h.conf.MaxStored {
		return
	}
	slices.SortFunc(away, func(a, b *mochi.Client) int { return cmp.Compare(a.StopTime(), b.StopTime()) })
	for _, cl := range away[:len(away)-h.conf.MaxStored] {
		h.forget(cl)
	}
}

// boundQueued ends the largest queues until what waits for acknowledgement has room.
func (h *hook) boundQueued() {
	type queue struct {
		cl    *mochi.Client
		bytes int
	}
	var all []queue
	sum := 0
	for _, cl := range h.server.Clients.GetAll() {
		q := queue{cl: cl}
		for _, pk := range cl.State.Inflight.GetAll(false) {
			q.bytes += len(pk.TopicName) + len(pk.Payload)
		}
		sum += q.bytes
		all = append(all, q)
	}
	slices.SortFunc(all, func(a, b queue) int { return cmp.Compare(b.bytes, a.bytes) })
	for _, q := range all {
		if sum <= h.conf.MaxQueued {
			return
		}
		q.cl.Stop(errQueued)
		h.forget(q.cl)
		sum -= q.bytes
	}
}

var errQueued = errors.New("more waits for this client than there is room for")
