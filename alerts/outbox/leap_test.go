package outbox

import (
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"flitch/alerts"
	"flitch/store"
)

// A leapingClock is real time, and what the test sets it ahead by.
type leapingClock struct {
	wallClock
	ahead atomic.Int64
}

func (c *leapingClock) Now() time.Time { return time.Now().Add(time.Duration(c.ahead.Load())) }

// A clock that steps by a day, or a machine that sleeps for one, while the way to a phone has
// been away for an hour: nothing is given up before it was tried for a day.
func TestALeapOfTheClockGivesNothingUp(t *testing.T) {
	for name, c := range map[string]struct {
		leap, away time.Duration
		status     store.MessageStatus
	}{
		"a day":                     {24 * time.Hour, 3 * time.Hour, store.MessageDelivered},
		"thirty years":              {30 * 365 * 24 * time.Hour, 20 * time.Hour, store.MessageDelivered},
		"the control: no leap":      {0, 26 * time.Hour, store.MessageFailed},
		"a leap, and a day of it":   {24 * time.Hour, 26 * time.Hour, store.MessageFailed},
		"a leap before the message": {0, 26 * time.Hour, store.MessageFailed},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b, p, clock := newBench(t), newPhone("pocket", busy), &leapingClock{}
				defer b.close()
				b.clock = clock
				b.start(p)
				if name == "a leap before the message" {
					clock.ahead.Add(int64(48 * time.Hour))
					b.pass(10 * time.Minute)
				}
				m := tell(1)
				m.Due = clock.Now()
				ids := b.enqueue(m)
				b.pass(time.Hour)
				clock.ahead.Add(int64(c.leap))
				b.pass(c.away - time.Hour)
				p.mu.Lock()
				p.script = nil
				p.mu.Unlock()
				b.pass(10 * time.Minute)
				if r := b.record(1, ids[0]); r.Status != c.status {
					t.Errorf("%s after %d attempts, want %s; the last: %+v", r.Status, len(r.Attempts), c.status, r.Attempts[len(r.Attempts)-1])
				}
			})
		})
	}
}

// The leap may come while a message is being sent.
func TestALeapDuringASend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, clock := newBench(t), &leapingClock{}
		defer b.close()
		b.clock = clock
		p := newPhone("pocket", errors.New("no answer"))
		b.start(p)
		m := tell(1)
		m.Due = clock.Now()
		ids := b.enqueue(m)
		b.pass(time.Hour)
		p.mu.Lock()
		p.hold = make(chan struct{})
		p.mu.Unlock()
		for before := len(p.got()); len(p.got()) == before; {
			b.pass(time.Second)
		}
		clock.ahead.Add(int64(24 * time.Hour))
		p.mu.Lock()
		close(p.hold)
		p.hold = nil
		p.mu.Unlock()
		b.pass(time.Minute)
		if r := b.record(1, ids[0]); r.Status == store.MessageFailed || r.Attempts[len(r.Attempts)-1].Outcome != alerts.RetryAt {
			t.Errorf("%s: %+v", r.Status, r.Attempts[len(r.Attempts)-1])
		}
	})
}
