package mqtt

import "sync"

// An ackQueue acknowledges on its own goroutine, in order. Ack of the client
// library writes to a channel that blocks while the socket does; whoever hands an
// acknowledgement over must not wait for that. It is bounded by what the broker
// sends without an acknowledgement (its in-flight window).
type ackQueue struct {
	mu      sync.Mutex
	waiting []func()
	closed  bool

	wake chan struct{} // holds one token when there may be work
	done chan struct{}
}

func newAckQueue() *ackQueue {
	q := &ackQueue{wake: make(chan struct{}, 1), done: make(chan struct{})}
	go q.run()
	return q
}

// add hands an acknowledgement over. It does not block. After close it is dropped,
// and the broker sends the message again.
func (q *ackQueue) add(ack func()) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed {
		return
	}
	q.waiting = append(q.waiting, ack)
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
func (q *ackQueue) take() (all []func(), last bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	all, q.waiting = q.waiting, nil
	return all, q.closed
}

func (q *ackQueue) run() {
	defer close(q.done)
	for range q.wake {
		all, last := q.take()
		for _, ack := range all {
			ack()
		}
		if last {
			return
		}
	}
}
