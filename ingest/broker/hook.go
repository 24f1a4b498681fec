package broker

import (
	"context"
	"errors"
	"sync"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"flitch/ingest"
)

// hook takes readings away from the broker library.
type hook struct {
	mochi.HookBase
	conf     Config
	intake   Submitter
	clock    ingest.Clock
	server   *mochi.Server
	retained *retained
	rights   *rights
	twins    twins

	mu       sync.RWMutex
	sessions map[*mochi.Client]*session // by connection: a client id may be on two for a moment
	closed   bool                       // new sessions are born ended
	running  sync.WaitGroup

	ctx    context.Context // ends at release: for wills, whose connections are over
	cancel context.CancelFunc
}

func newHook(conf Config, intake Submitter, clock ingest.Clock, server *mochi.Server, rights *rights) *hook {
	h := &hook{conf: conf, intake: intake, clock: clock, server: server, retained: newRetained(conf.MaxKept, rights.full), rights: rights, sessions: map[*mochi.Client]*session{}, twins: twins{taken: map[string][]time.Time{}}}
	h.ctx, h.cancel = context.WithCancel(context.Background())
	for _, k := range conf.Kept {
		h.retained.keep(k.packet())
	}
	return h
}

func (*hook) ID() string { return "flitch-readings" }

func (*hook) Provides(b byte) bool {
	switch b {
	case mochi.OnConnect, mochi.OnSessionEstablished, mochi.OnDisconnect, mochi.OnPacketRead, mochi.OnPublish, mochi.OnPacketProcessed, mochi.OnWill, mochi.OnWillSent,
		mochi.OnSubscribe, mochi.OnClientExpired:
		return true
	}
	return false
}

// OnConnect bounds the keep-alive of a new client, and refuses a last will that could not
// be published. The library waits with a will as long as its client likes, keeps any number
// of those, and forgets whose session ended meanwhile: here a will is said at once.
func (h *hook) OnConnect(cl *mochi.Client, _ packets.Packet) error {
	if will := &cl.Properties.Will; will.Flag != 0 {
		if !isTopic(will.TopicName) {
			return errWillTopic
		}
		will.WillDelayInterval = 0
	}
	if held := heldKeepAlive(cl.State.Keepalive, h.conf.MaxKeepAlive); held != cl.State.Keepalive {
		cl.State.Keepalive, cl.State.ServerKeepalive = held, true
	}
	return nil
}

// OnSessionEstablished starts the session. From here on the library always calls
// OnDisconnect.
func (h *hook) OnSessionEstablished(cl *mochi.Client, _ packets.Packet) {
	if c, ok := cl.Net.Conn.(*conn); ok {
		c.admitted()
	}
	s := newSession(cl, h.clock, h.conf.MaxRate)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed {
		s.cancel()
	}
	h.sessions[cl] = s
	h.running.Go(s.run)
}

// OnDisconnect ends the session.
func (h *hook) OnDisconnect(cl *mochi.Client, _ error, ends bool) {
	if errors.Is(cl.StopCause(), packets.ErrSessionTakenOver) && h.twins.took(cl.ID, h.clock.Now()) {
		h.conf.Twins(cl.ID)
	}
	if !ends {
		defer h.boundStored()
	}
	h.mu.Lock()
	s := h.sessions[cl]
	delete(h.sessions, cl)
	h.mu.Unlock()
	if s != nil {
		s.cancel()
	}
}

// OnPacketRead lets a client wait that sends more than its share.
func (h *hook) OnPacketRead(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	s := h.session(cl)
	if s == nil { // CONNECT
		return pk, nil
	}
	if tooDeep(pk) {
		return pk, packets.ErrRejectPacket // ends the connection
	}
	if wait := s.share.take(h.clock.Now(), pk.FixedHeader.Remaining); wait > 0 {
		select {
		case <-h.clock.After(wait):
		case <-s.ctx.Done():
		}
	}
	return pk, nil
}

func (h *hook) session(cl *mochi.Client) *session {
	h.mu.RLock()
	defer h.mu.RUnlock()
	return h.sessions[cl]
}

// OnPublish submits readings to the intake and leaves the rest alone. ErrRejectPacket
// makes the library forget the packet; any other error would make it acknowledge.
func (h *hook) OnPublish(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	if cl.Net.Inline {
		return pk, nil // our own fan-out: it would go round for ever
	}
	if !h.intake.Reads(pk.TopicName) {
		if user := string(cl.Properties.Username); !h.rights.publish(user, pk.TopicName) {
			h.rights.refused(user, pk.TopicName)
			return pk, packets.CodeSuccessIgnore // acknowledged, and passed on to nobody
		}
		h.conf.Unmapped(pk.TopicName, pk.Payload)
		return h.retained.keep(pk), nil
	}
	s := h.session(cl)
	if s == nil || s.refuses() != nil {
		return pk, packets.ErrRejectPacket
	}
	if pk.FixedHeader.Qos == 2 {
		return h.exactlyOnce(s, pk)
	}
	s.enter()
	err := h.intake.Submit(s.ctx, ingest.Message{
		Topic: pk.TopicName, Payload: pk.Payload,
		Ack: func() { h.stored(s, pk) },
	})
	if err != nil {
		s.refuse(err)
	}
	return pk, packets.ErrRejectPacket
}

// stored acknowledges a reading that is on disk and passes it on.
func (h *hook) stored(s *session, pk packets.Packet) {
	if pk.FixedHeader.Qos == 1 {
		s.acknowledge(pk.PacketID)
	} else {
		s.leave()
	}
	if h.conf.FanOut {
		_ = h.publish(pk.TopicName, pk.Payload, pk.FixedHeader.Retain, pk.FixedHeader.Qos)
	}
}

// exactlyOnce holds the connection until the reading is on disk; the library then
// answers with PUBREC and goes on with the handshake, which it knows.
func (h *hook) exactlyOnce(s *session, pk packets.Packet) (packets.Packet, error) {
	onDisk := make(chan struct{})
	s.enter()
	err := h.intake.Submit(s.ctx, ingest.Message{
		Topic: pk.TopicName, Payload: pk.Payload,
		Ack: func() { s.leave(); close(onDisk) },
	})
	if err == nil {
		select {
		case <-onDisk:
			return h.retained.keep(pk), nil
		case <-s.ctx.Done():
			err = s.ctx.Err()
		}
	}
	s.drop(err)
	return pk, packets.ErrRejectPacket
}

var errStalled = errors.New("readings could not be stored for too long")

// watch disconnects clients that have waited for too long, until stop closes.
func (h *hook) watch(stop <-chan struct{}) {
	for {
		select {
		case <-h.clock.After(h.conf.StallLimit / 4):
		case <-stop:
			return
		}
		h.boundQueued()
		now := h.clock.Now()
		for _, s := range h.all() {
			if s.stalled(now, h.conf.StallLimit) {
				s.drop(errStalled)
			}
		}
	}
}

func (h *hook) all() []*session {
	h.mu.RLock()
	defer h.mu.RUnlock()
	all := make([]*session, 0, len(h.sessions))
	for _, s := range h.sessions {
		all = append(all, s)
	}
	return all
}

// flushStep is how often flush looks.
const flushStep = 5 * time.Millisecond

// flush waits until the acknowledgements under way are written, or ctx ends.
func (h *hook) flush(ctx context.Context) {
	for _, s := range h.all() {
		for !s.idle() && s.ctx.Err() == nil {
			select {
			case <-h.clock.After(flushStep):
			case <-ctx.Done():
				return
			}
		}
	}
}

// release wakes every publish that waits for the intake, now and later.
func (h *hook) release() {
	h.mu.Lock()
	h.closed = true
	h.mu.Unlock()
	h.cancel()
	for _, s := range h.all() {
		s.cancel()
	}
}

// wait returns when all session goroutines have ended.
func (h *hook) wait() { h.running.Wait() }
