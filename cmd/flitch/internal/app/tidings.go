package app

import (
	"context"
	"sync"
	"time"
)

// A report is news of a part of flitch on its way to the engine, which stores it like any input.
type report struct {
	part     string
	failed   bool
	gap      string // words of a time in which nothing could be stored; it is over
	from, to time.Time
	passing  bool // it came and is over: no state
}

// passingKept is how much may wait that came and is over, gaps apart: proposal. It names what
// strangers try, so that it needs a bound; states have theirs in the parts that there are.
const passingKept = 64

// Tidings wait, in order, for the engine: for hours while the disk fails. Of the states of a
// part two wait at most, and the last of them is what is true. A queue of changes was full
// of the flapping of one part, and dropped the word that ended it.
type tidings struct {
	mu    sync.Mutex
	waits []report
	more  chan struct{} // holds a value while something may wait
}

func newTidings() *tidings { return &tidings{more: make(chan struct{}, 1)} }

// turned notes that the state of a part has changed. It is asked for under the lock: of two
// changes at once the one that is noted last then has the newest state, whichever came first.
func (t *tidings) turned(part string, isFailed func(part string) bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	r := report{part: part, failed: isFailed(part)}
	var of []int
	for i, w := range t.waits {
		if w.part == part && w.gap == "" {
			of = append(of, i)
		}
	}
	n := len(of)
	switch {
	case n > 0 && t.waits[of[n-1]].failed == r.failed:
	case n > 1: // the word before the last says the same
		t.waits = append(t.waits[:of[n-1]], t.waits[of[n-1]+1:]...)
	default:
		t.put(r)
	}
}

// pass notes what came and is over: all of it, or nothing when too much waits.
func (t *tidings) pass(all ...report) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	kept := len(all)
	for _, w := range t.waits {
		if w.passing && (w.gap != "") == (all[0].gap != "") {
			kept++
		}
	}
	if kept > passingKept {
		return false
	}
	for _, r := range all {
		r.passing = true
		t.put(r)
	}
	return true
}

// put adds to what waits. The lock is held.
func (t *tidings) put(r report) {
	t.waits = append(t.waits, r)
	select {
	case t.more <- struct{}{}:
	default: // it is known already
	}
}

// next waits for the oldest and takes it out; false when ctx ends.
func (t *tidings) next(ctx context.Context) (report, bool) {
	for ctx.Err() == nil {
		if r, ok := t.take(); ok {
			return r, true
		}
		select {
		case <-ctx.Done():
		case <-t.more:
		}
	}
	return report{}, false
}

func (t *tidings) take() (r report, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.waits) == 0 {
		return r, false
	}
	r, t.waits = t.waits[0], t.waits[1:]
	return r, true
}
