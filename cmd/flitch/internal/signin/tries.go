package signin

import (
	"sync"
	"time"
)

// Wrong passwords are slowed down by address and by name: five are free, then each
// costs twice as long, at most a quarter of an hour. Proposals. By name too, because
// one person may have many addresses; not for ever, because that would let a stranger
// lock the curer out.
const (
	freeTries  = 5
	firstWait  = 10 * time.Second
	longestOut = 15 * time.Minute
	mostTries  = 1000 // addresses and names that are remembered
)

// tries remembers wrong passwords. The zero value is ready.
type tries struct {
	mu   sync.Mutex
	last map[string]try
}

type try struct {
	wrong int
	until time.Time // no sooner
	at    time.Time // the last
}

func keys(from, name string) []string {
	if name == "" {
		return []string{"from " + from}
	}
	return []string{"from " + from, "name " + name}
}

// wait is how long it is until the next try is looked at.
func (t *tries) wait(now time.Time, from, name string) (longest time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, key := range keys(from, name) {
		longest = max(longest, t.last[key].until.Sub(now))
	}
	return longest
}

// failed counts a wrong one.
func (t *tries) failed(now time.Time, from, name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.last == nil || len(t.last) > mostTries {
		t.forget(now)
	}
	for _, key := range keys(from, name) {
		e := t.last[key]
		if now.Sub(e.at) > 2*longestOut {
			e = try{}
		}
		e.wrong++
		e.at = now
		if over := e.wrong - freeTries; over >= 0 {
			e.until = now.Add(min(firstWait<<min(over, 10), longestOut))
		}
		t.last[key] = e
	}
}

// forget keeps those that still wait.
func (t *tries) forget(now time.Time) {
	kept := map[string]try{}
	for key, e := range t.last {
		if e.until.After(now) && len(kept) < mostTries {
			kept[key] = e
		}
	}
	t.last = kept
}

// worked forgets what was wrong before.
func (t *tries) worked(from, name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, key := range keys(from, name) {
		delete(t.last, key)
	}
}
