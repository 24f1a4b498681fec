package app

import (
	"testing"
	"time"

	"flitch/store"
)

// A tardyClock lets whoever asks for a wait wait until the clock was stepped: as a goroutine
// that a busy machine stops between its look at the clock and its wait.
type tardyClock struct {
	*Stepped
	tardy   func(d time.Duration) bool
	asked   chan struct{} // receives when a tardy one asks
	stepped chan struct{} // closed once the clock was stepped
}

func (c *tardyClock) After(d time.Duration) <-chan time.Time {
	if c.tardy(d) {
		select {
		case c.asked <- struct{}{}:
		default: // another one did
		}
		<-c.stepped
	}
	return c.Stepped.After(d)
}

// A message whose answer was lost is tried again in the step that makes it due, also when its
// channel had not begun to wait when the clock was stepped.
func TestSettleWaitsForNoWaitThatBeganLate(t *testing.T) {
	s := newShop(t)
	s.cfg.Channels[0].Deadline = 50 * time.Millisecond
	s.phone.takes = time.Second
	clock := &tardyClock{Stepped: s.clock, asked: make(chan struct{}, 1), stepped: make(chan struct{}),
		tardy: func(d time.Duration) bool { return d > 4*time.Second && d != 5*time.Second && d < 6*time.Second }} // what another attempt waits, by chance
	s.instead = clock
	s.open()
	err := s.app.db.Update(func(tx *store.Tx) error { return s.app.enqueue(tx, policy(s.cfg).Test(dawn)[0]) })
	if err != nil {
		t.Fatal(err)
	}
	s.app.outbox.Wake()
	<-clock.asked
	s.clock.Step(dawn.Add(minute))
	close(clock.stepped)
	s.settle()
	if got := s.phone.heard(); len(got) != 2 {
		t.Errorf("the phone heard %q, want the message twice", got)
	}
}
