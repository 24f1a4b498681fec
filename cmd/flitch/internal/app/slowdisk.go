package app

import (
	"context"
	"fmt"
	"sync"
	"time"

	"flitch/process/engine"
)

// When a disk is slow: proposals. A card that works takes 5 to 100 ms for a transaction.
const (
	slowWrite  = time.Second
	slowWrites = 3 // within slowSpan
	slowSpan   = time.Minute
	hangs      = 15 * time.Second // a write that takes longer is no write
	paceLook   = time.Second
	roomLook   = 10 // looks between two at a disk without room
)

// A pace watches how long transactions take, by the clock of the machine.
type pace struct {
	mu   sync.Mutex
	slow []slowOne // of the last slowSpan
}

type slowOne struct {
	at   time.Time
	took time.Duration
}

// committed hears of each transaction. The writer is held meanwhile.
func (p *pace) committed(took time.Duration, _ error) {
	if took < slowWrite {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.slow = append(p.slow, slowOne{Wall{}.Now(), took})
}

// judge returns how the disk has been of late; "" when it was not slow, and known is false
// while a few slow writes say neither.
func (p *pace) judge(now time.Time) (words string, known bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for len(p.slow) > 0 && now.Sub(p.slow[0].at) > slowSpan {
		p.slow = p.slow[1:]
	}
	longest := time.Duration(0)
	for _, s := range p.slow {
		longest = max(longest, s.took)
	}
	if len(p.slow) >= slowWrites {
		return fmt.Sprintf("%d writes took a second or more within a minute, the longest %.1f s", len(p.slow), longest.Seconds()), true
	}
	return "", len(p.slow) == 0
}

// watchPace tells of a disk that is slow, and of a write that does not end.
func (a *App) watchPace(ctx context.Context) error {
	hung := false
	for n := 1; ; n++ {
		select {
		case <-ctx.Done():
			return nil
		case <-Wall{}.After(paceLook):
		}
		now := Wall{}.Now()
		if words, known := a.pace.judge(now); words != "" {
			a.faults.Set(engine.FaultSlow, words)
		} else if known {
			a.faults.Clear(engine.FaultSlow)
			if time.Duration(n)*paceLook > slowSpan && a.engine.Faulty(engine.FaultSlow) {
				a.recovered(engine.FaultSlow) // also one of before the start
			}
		}
		if n%roomLook == 0 {
			a.endStale()
		}
		if n%roomLook == 0 && a.noRoom.Load() {
			a.diskFault(nil) // somebody may have made room
		}
		since := a.db.Writing()
		switch stuck := !since.IsZero() && now.Sub(since) > hangs; {
		case stuck:
			hung = true
			a.faults.Set(engine.FaultDisk, fmt.Sprintf("a write has not ended for %s", now.Sub(since).Round(time.Second)))
		case hung && since.IsZero():
			hung = false
			a.diskFault(nil)
		}
	}
}
