package broker

import (
	"sync"
	"time"
)

// Two devices that connect under one name send each other away for ever: each takes over the
// session of the other. One that comes back after a break in the network does that once.
// Proposals.
const (
	twinsAfter  = 5 // times a name was taken over
	twinsWithin = 10 * time.Minute
	twinsNames  = 1000 // names that are counted
)

// twins counts how often each name was taken over.
type twins struct {
	mu    sync.Mutex
	taken map[string][]time.Time
}

// took notes that a name was taken over, and reports whether that is too often.
func (w *twins) took(id string, now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.taken) >= twinsNames {
		clear(w.taken)
	}
	times := append(w.taken[id], now)
	if len(times) > twinsAfter {
		times = times[1:]
	}
	w.taken[id] = times
	return len(times) == twinsAfter && now.Sub(times[0]) <= twinsWithin
}
