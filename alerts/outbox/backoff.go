package outbox

import (
	"math/rand/v2"
	"time"
)

// RingPatience is how long a ring may be under way before it is reported as
// late, so that another way can be tried. Proposal.
const RingPatience = 2 * time.Minute

// fewestAttempts is how often even a long overdue message is tried before it is
// given up: after days without power the network comes up later than we do.
const fewestAttempts = 12

// Backoff says how long a failed message waits. Zero fields take the defaults
// written beside them; all are proposals.
type Backoff struct {
	First    time.Duration // wait after the first failure: 5 s, doubled each time
	Max      time.Duration // longest wait of our own: 5 min
	MaxAfter time.Duration // longest wait that the other side may ask for: 1 h
	GiveUp   time.Duration // a message this long overdue is given up: 24 h
}

func (b Backoff) complete() Backoff {
	pick := func(d *time.Duration, otherwise time.Duration) {
		if *d <= 0 {
			*d = otherwise
		}
	}
	pick(&b.First, 5*time.Second)
	pick(&b.Max, 5*time.Minute)
	pick(&b.MaxAfter, time.Hour)
	pick(&b.GiveUp, 24*time.Hour)
	return b
}

// wait is the time before the next attempt, after the given number of failed
// ones. A quarter of it is by chance, so that channels that failed together do
// not come back together. asked is what the other side asked for; it is
// honoured up to MaxAfter.
func (b Backoff) wait(attempts int, asked time.Duration, random *rand.Rand) time.Duration {
	d := b.First
	for range min(attempts-1, 32) {
		d = min(2*d, b.Max)
	}
	d = d - d/8 + time.Duration(random.Int64N(int64(d/4)+1))
	return max(d, min(asked, b.MaxAfter))
}
