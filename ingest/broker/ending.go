package broker

import (
	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

// endedByUs sends clients away at a stop. The library's own way (v2.7.9,
// Clients.GetByListener) takes its read lock twice, one inside the other: a client that
// hangs up in between waits for the write lock, the second read waits behind it, and the
// stop hangs for ever.
type endedByUs struct {
	*listeners.Net
	bound  *listener
	server *mochi.Server
	hook   *hook
}

// Close implements listeners.Listener.
func (e endedByUs) Close(listeners.CloseFn) {
	e.bound.end()
	e.Net.Close(e.sendAway)
}

func (e endedByUs) sendAway(listener string) {
	for _, c := range e.server.Clients.GetAll() {
		if c.Net.Listener == listener && !c.Closed() {
			_ = e.server.DisconnectClient(c, packets.ErrServerShuttingDown) // it may have hung up by itself
		}
	}
}
