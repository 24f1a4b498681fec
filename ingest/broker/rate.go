package broker

import (
	"math"
	"time"
)

// Rates, proposals: a sensor sends a reading a second at most, one that comes back after a
// night some thousand at once.
const (
	maxRate    = 1000.0 // packets a second of one client, on the long run
	burstOf    = 5      // seconds of that at once
	packetSize = 4096   // bytes; a larger packet counts as several
)

// A bucket holds up a client that sends more than its share: its connection is not read
// meanwhile, so that TCP makes it wait and nothing is lost.
type bucket struct {
	rate float64 // tokens a second
	left float64 // of them; below zero is a debt
	at   time.Time
}

func newBucket(rate float64, now time.Time) bucket { return bucket{rate, rate * burstOf, now} }

// take pays for a packet of so many bytes and returns how long its client has to wait.
func (b *bucket) take(now time.Time, size int) time.Duration {
	passed := max(0, now.Sub(b.at).Seconds()) // the clock may have been set back
	b.at = now
	b.left = math.Min(b.rate*burstOf, b.left+passed*b.rate) - 1 - float64(size/packetSize)
	if b.left >= 0 {
		return 0
	}
	return time.Duration(-b.left / b.rate * float64(time.Second))
}
