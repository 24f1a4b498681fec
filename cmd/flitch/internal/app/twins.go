package app

import (
	"context"
	"fmt"
	"sync"
	"time"

	"flitch/process/engine"
)

// peace is how long no two devices may have taken each other's connection before that is
// said to be over. Proposal.
const peace = 30 * time.Minute

// A twinDesk keeps which names several devices connect under.
type twinDesk struct {
	mu   sync.Mutex
	last map[string]time.Time
}

// sawTwins is told by our broker each time a name is taken over too often.
func (a *App) sawTwins(id string) {
	const longest = 64 // letters of a name that is shown
	name := []rune(id)
	if len(name) > longest {
		name = name[:longest]
	}
	part := engine.FaultTwins + string(name)
	a.twins.mu.Lock()
	if a.twins.last == nil {
		a.twins.last = map[string]time.Time{}
	}
	a.twins.last[part] = a.clock.Now()
	a.twins.mu.Unlock()
	a.faults.Set(part, fmt.Sprintf("devices send each other away: more than one connects as %q", string(name)))
}

// await waits for one that was reported before the start as if it had been seen now.
func (d *twinDesk) await(part string, now time.Time) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.last == nil {
		d.last = map[string]time.Time{}
	}
	if _, known := d.last[part]; !known {
		d.last[part] = now
	}
}

// endTwins ends what has not been seen for long enough, until ctx ends.
func (a *App) endTwins(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(peace / 10):
		}
		now := a.clock.Now()
		a.twins.mu.Lock()
		for part, at := range a.twins.last {
			if now.Sub(at) >= peace {
				delete(a.twins.last, part)
				a.recovered(part)
			}
		}
		a.twins.mu.Unlock()
	}
}
