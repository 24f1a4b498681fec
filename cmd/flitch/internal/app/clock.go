package app

import (
	"sync"
	"time"
)

// A Clock is what every loop tells the time by.
type Clock interface {
	Now() time.Time
	After(d time.Duration) <-chan time.Time
}

// Wall is the clock of the machine.
type Wall struct{}

// Now returns the time, UTC.
func (Wall) Now() time.Time { return time.Now().UTC() }

// After returns a channel that receives once d has passed.
func (Wall) After(d time.Duration) <-chan time.Time { return time.After(d) }

// A Stepped clock moves only when it is told to. The demo runs nine days in half a
// minute on it, and no loop can tell the difference.
type Stepped struct {
	mu      sync.Mutex
	now     time.Time
	waiting []alarmClock
}

type alarmClock struct {
	at   time.Time
	ring chan time.Time
}

// NewStepped returns a clock that shows now.
func NewStepped(now time.Time) *Stepped { return &Stepped{now: now.UTC()} }

// Now returns the time last stepped to.
func (s *Stepped) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// After returns a channel that receives once the clock was stepped d ahead.
func (s *Stepped) After(d time.Duration) <-chan time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	ring := make(chan time.Time, 1)
	if d <= 0 {
		ring <- s.now
		return ring
	}
	s.waiting = append(s.waiting, alarmClock{s.now.Add(d), ring})
	return ring
}

// Step moves the clock to t, or leaves it where it is if that is past, and wakes
// whoever waits for a time until then.
func (s *Stepped) Step(t time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if t.After(s.now) {
		s.now = t.UTC()
	}
	keep := s.waiting[:0]
	for _, w := range s.waiting {
		if w.at.After(s.now) {
			keep = append(keep, w)
			continue
		}
		w.ring <- s.now
	}
	s.waiting = keep
}
