package mqtt

import (
	"sync"

	"flitch/ingest"
)

// An ack is one message to acknowledge. It belongs to the connection that the
// message came on: on a later one the broker sends it again, or the number may mean
// another message.
type ack struct {
	on *connection
	id uint16
}

// An ackQueue acknowledges on its own goroutine, in order: whoever hands an
// acknowledgement over must not wait for a socket. It is bounded by what the broker
// sends without an acknowledgement (its in-flight window).
type ackQueue struct {
	clock   ingest.Clock
	mu      sync.Mutex
	waiting []ack
	closed  bool

	wake chan struct{} // holds one token when there may be work
	done chan struct{}
}

func newAckQueue(clock ingest.Clock) *ackQueue {
	q := &ackQueue{clock: clock, wake: make(chan struct{}, 1), done: make(chan struct{})}
	go q.run()
	return q
}

// add hands an acknowledgement over. It does not block. After close it is dropped,
// and the broker sends the message again.
func (q *ackQueue) add(a ack) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed {
		return
	}
	q.waiting = append(q.waiting, a)
	q.ring()
}

// ring wakes run up; q.mu is held.
func (q *ackQueue) ring() {
	select {
	case q.wake <- struct{}{}:
	default:
	}
}

// close sends what waits and ends the queue.
func (q *ackQueue) close() {
	q.mu.Lock()
	q.closed = true
	q.ring()
	q.mu.Unlock()
	<-q.done
}

// take empties the queue; last is true when nothing will follow.
func (q *ackQueue) take() (all []ack, last bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	all, q.waiting = q.waiting, nil
	return all, q.closed
}

func (q *ackQueue) run() {
	defer close(q.done)
	for range q.wake {
		all, last := q.take()
		q.send(all)
		if last {
			return
		}
	}
}

// send writes runs of acknowledgements that belong to one connection together.
func (q *ackQueue) send(all []ack) {
	ids := make([]uint16, 0, len(all))
	for i, a := range all {
		ids = append(ids, a.id)
		if i+1 == len(all) || all[i+1].on != a.on {
			a.on.acknowledge(ids, q.clock.Now().Add(writeTimeout))
			ids = ids[:0]
		}
	}
}
