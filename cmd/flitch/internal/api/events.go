package api

import (
	"fmt"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

const (
	maxSubscribers = 32              // phones and tabs that follow at once
	maxFollowing   = 12              // of one address, but for this machine's own, where a server in front of us is
	beatEvery      = 2 * time.Second // the page says "not live" after four seconds without
	quiet          = time.Second     // at most one "glance" in this time and subscriber
	writeWithin    = 5 * time.Second // a phone that takes longer is dropped; it comes again
)

// Events tells the pages that follow that something changed. It carries no
// content: the page asks for what is true then.
type Events struct {
	mu     sync.Mutex
	subs   map[chan struct{}]netip.Prefix // from where each follows
	closed bool
	done   chan struct{}
}

// NewEvents returns an Events without subscribers.
func NewEvents() *Events {
	return &Events{subs: make(map[chan struct{}]netip.Prefix), done: make(chan struct{})}
}

// Changed says that the state changed. It never waits: a subscriber that has not
// yet taken the last word is told once.
func (e *Events) Changed() {
	e.mu.Lock()
	defer e.mu.Unlock()
	for sub := range e.subs {
		select {
		case sub <- struct{}{}:
		default:
		}
	}
}

// Close ends all streams, so that the server can stop. Later ones are refused.
func (e *Events) Close() {
	e.mu.Lock()
	defer e.mu.Unlock()
	if !e.closed {
		e.closed = true
		close(e.done)
	}
}

// Followers returns how many follow.
func (e *Events) Followers() int {
	e.mu.Lock()
	defer e.mu.Unlock()
	return len(e.subs)
}

func (e *Events) follow(from netip.Prefix) (sub chan struct{}, ok bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	same := 0
	for _, other := range e.subs {
		if other == from && !from.Addr().IsLoopback() {
			same++
		}
	}
	if e.closed || len(e.subs) >= maxSubscribers || same >= maxFollowing {
		return nil, false
	}
	sub = make(chan struct{}, 1)
	e.subs[sub] = from
	return sub, true
}

func (e *Events) leave(sub chan struct{}) {
	e.mu.Lock()
	defer e.mu.Unlock()
	delete(e.subs, sub)
}

// events serves the stream: "glance" when something changed, "beat" every two
// seconds so that silence means something.
func (s *server) events(w http.ResponseWriter, r *http.Request) {
	sub, ok := s.Events.follow(houseOf(r.RemoteAddr))
	if !ok {
		s.refuse(w, http.StatusServiceUnavailable, "too many pages follow already, or flitch is stopping", "close one, or try again in a moment")
		return
	}
	defer s.Events.leave(sub)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Accel-Buffering", "no")
	out := stream{w: w, control: http.NewResponseController(w), wall: s.Wall}
	if out.send("beat") == nil {
		s.relay(r, sub, out)
	}
}

// relay returns when the phone is gone, too slow, or flitch stops. Changes that
// come close together are told once, a second after the last telling.
func (s *server) relay(r *http.Request, sub <-chan struct{}, out stream) {
	listen := sub
	var again <-chan time.Time
	beat := s.Wall.After(beatEvery)
	for {
		var err error
		select {
		case <-r.Context().Done():
			return
		case <-s.Events.done:
			return
		case <-listen:
			err = out.send("glance")
			listen, again = nil, s.Wall.After(quiet)
		case <-again:
			listen, again = sub, nil
		case <-beat:
			err = out.send("beat")
			beat = s.Wall.After(beatEvery)
		}
		if err != nil {
			s.Log.Debug("a page that followed was dropped", "from", r.RemoteAddr, "error", err)
			return
		}
	}
}

// A stream is one open answer.
type stream struct {
	w       http.ResponseWriter
	control *http.ResponseController
	wall    Clock
}

func (o stream) send(event string) error {
	now := o.wall.Now()
	if err := o.control.SetWriteDeadline(now.Add(writeWithin)); err != nil {
		return fmt.Errorf("stream: set deadline: %w", err)
	}
	if _, err := fmt.Fprintf(o.w, "event: %s\ndata: {\"at\":%q}\n\n", event, now.UTC().Format(time.RFC3339Nano)); err != nil {
		return fmt.Errorf("stream: write: %w", err)
	}
	if err := o.control.Flush(); err != nil {
		return fmt.Errorf("stream: flush: %w", err)
	}
	return nil
}
