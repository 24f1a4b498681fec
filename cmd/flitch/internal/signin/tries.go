package signin

import (
	"sync"
	"time"
)

// Wrong passwords are slowed down by address and by name: five are free, then each
// costs twice as long, at most a quarter of an hour. Proposals. By name too, because
// one person may have many addresses; not for ever, because that would let a stranger
// lock the curer out. Who signed in on a browser before is not held up there at all by what
// others try: it has a cookie that says so (OWASP, device cookies), and tries of its own.
const (
	freeTries  = 5
	firstWait  = 10 * time.Second
	longestOut = 15 * time.Minute
	mostTries  = 1000 // addresses and names that are remembered
)

// tries remembers wrong passwords. The zero value is ready.
type tries struct {
	mu     sync.Mutex
	last   map[string]try
	people map[string]try // never forgotten for want of room: as many as there are passwords
}

type try struct {
	wrong int
	until time.Time // no sooner
	at    time.Time // the last
}

// A subject is what a try counts against: an address and a name, or a browser that is known.
type subject struct {
	from, name string
	person     string // the name and its password, if there is one
	device     string
}

// keys are where it is remembered; those of people stand apart.
func (s subject) keys() (some, person []string) {
	switch {
	case s.device != "":
		return []string{"device " + s.device}, nil
	case s.person != "":
		return []string{"from " + s.from}, []string{s.person}
	case s.name == "":
		return []string{"from " + s.from}, nil
	}
	return []string{"from " + s.from, "name " + s.name}, nil
}

// wait is how long it is until the next try is looked at.
func (t *tries) wait(now time.Time, who subject) (longest time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	some, person := who.keys()
	for _, key := range some {
		longest = max(longest, t.last[key].until.Sub(now))
	}
	for _, key := range person {
		longest = max(longest, t.people[key].until.Sub(now))
	}
	return longest
}

// failed counts a wrong one and returns how many there were in a row of the person; 0 of
// nobody.
func (t *tries) failed(now time.Time, who subject) (wrong int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.last == nil || len(t.last) > mostTries {
		t.forget(now)
	}
	if t.people == nil || len(t.people) > mostTries { // of passwords that were changed
		t.people = map[string]try{}
	}
	some, person := who.keys()
	for _, key := range some {
		t.last[key] = t.last[key].again(now)
	}
	for _, key := range person {
		t.people[key] = t.people[key].again(now)
		wrong = t.people[key].wrong
	}
	return wrong
}

func (e try) again(now time.Time) try {
	if now.Sub(e.at) > 2*longestOut {
		e = try{}
	}
	e.wrong++
	e.at = now
	if over := e.wrong - freeTries; over >= 0 {
		e.until = now.Add(min(firstWait<<min(over, 10), longestOut))
	}
	return e
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
func (t *tries) worked(who subject) {
	t.mu.Lock()
	defer t.mu.Unlock()
	some, person := who.keys()
	for _, key := range some {
		delete(t.last, key)
	}
	for _, key := range person {
		delete(t.people, key)
	}
}
