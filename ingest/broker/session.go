package broker

import (
	"context"
	"errors"
	"sync"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"

	"flitch/ingest"
)

// A session is one connection as far as readings are concerned: what it waits for,
// and the acknowledgements on their way to it. They leave from a goroutine of the
// session, so that a device that does not read holds up nobody else.
type session struct {
	cl     *mochi.Client
	clock  ingest.Clock
	ctx    context.Context // ends with the connection
	cancel context.CancelFunc
	wake   chan struct{} // holds one token when there may be work
	done   chan struct{}
	share  bucket // of the connection's read loop alone

	mu       sync.Mutex
	acks     []uint16  // packet ids to acknowledge, in order
	waiting  int       // readings that are neither stored nor given up
	progress time.Time // when waiting last began or shrank
	writing  bool
	ending   error // a reading was refused: the connection ends when those taken before are answered
}

func newSession(cl *mochi.Client, clock ingest.Clock, rate float64) *session {
	s := &session{cl: cl, clock: clock, share: newBucket(rate, clock.Now()), wake: make(chan struct{}, 1), done: make(chan struct{})}
	s.ctx, s.cancel = context.WithCancel(context.Background())
	return s
}

// enter counts one reading in.
func (s *session) enter() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.waiting == 0 {
		s.progress = s.clock.Now()
	}
	s.waiting++
}

// leave counts one reading out.
func (s *session) leave() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.left()
}

// left does the counting; s.mu is held.
func (s *session) left() {
	s.waiting--
	s.progress = s.clock.Now()
}

// packetIDs is how many packets of one client may be under way (16 bits, 0 is not
// used; MQTT 3.1.1, 2.3.1).
const packetIDs = 65535

var errDeaf = errors.New("the client does not read its acknowledgements")

// acknowledge counts one reading out and queues its PUBACK. It does not block.
func (s *session) acknowledge(id uint16) {
	s.mu.Lock()
	s.left()
	s.acks = append(s.acks, id)
	tooMany := len(s.acks) > packetIDs
	s.mu.Unlock()
	s.rouse()
	if tooMany {
		if c, ok := s.cl.Net.Conn.(*conn); ok {
			c.cut() // drop alone would wait for a client that does not read
		}
		s.drop(errDeaf)
	}
}

// rouse lets run look again.
func (s *session) rouse() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// drop ends the connection.
func (s *session) drop(err error) {
	s.cancel()
	s.cl.Stop(err)
}

// refuse counts out a reading that was not taken. On one connection it would not be
// sent again, so the connection ends; but first those taken before are answered.
func (s *session) refuse(err error) {
	s.mu.Lock()
	s.left()
	if s.ending == nil {
		s.ending = err
	}
	s.mu.Unlock()
	s.rouse()
}

// refuses returns why no more readings are taken, or nil.
func (s *session) refuses() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ending
}

// over returns why the connection is to end now, or nil.
func (s *session) over() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.waiting > 0 || len(s.acks) > 0 {
		return nil
	}
	return s.ending
}

// stalled reports whether readings have waited for longer than limit.
func (s *session) stalled(now time.Time, limit time.Duration) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.waiting > 0 && now.Sub(s.progress) > limit
}

// run writes acknowledgements until the connection ends.
func (s *session) run() {
	defer close(s.done)
	for {
		select {
		case <-s.wake:
		case <-s.ctx.Done():
			return
		}
		err := s.write(s.take())
		if err == nil {
			err = s.over()
		}
		if err != nil {
			s.drop(err)
			return
		}
	}
}

// take empties the queue.
func (s *session) take() []uint16 {
	s.mu.Lock()
	defer s.mu.Unlock()
	ids := s.acks
	s.acks, s.writing = nil, len(ids) > 0
	return ids
}

// write sends all PUBACKs in one call; the library's WritePacket makes one system
// call each. A write to the connection is atomic, so they may pass the library's
// own packets but never break into one. The four bytes are the same in every
// version of the protocol (MQTT 3.1.1, 3.4; MQTT 5, 3.4.2.1: success may be left
// out).
func (s *session) write(ids []uint16) error {
	if len(ids) == 0 {
		return nil
	}
	out := make([]byte, 0, 4*len(ids))
	for _, id := range ids {
		out = append(out, 0x40, 2, byte(id>>8), byte(id))
	}
	_, err := s.cl.Net.Conn.Write(out)
	s.mu.Lock()
	s.writing = false
	s.mu.Unlock()
	return err
}

// idle reports whether no acknowledgement is on its way.
func (s *session) idle() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.acks) == 0 && !s.writing
}
