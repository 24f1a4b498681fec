package app

import (
	"testing"
	"testing/synctest"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
)

// The test ring of ten o'clock on Sunday comes once through each way, whatever the clock does
// about that hour; it is left out if ten was leapt over by more than two hours.
func TestTheTestRingComesOnceInTheNights(t *testing.T) {
	for name, c := range map[string]struct {
		at    time.Duration // after nine
		do    func(b *bubble)
		rings int
		usual bool // runs with all tests
	}{
		"nothing":                        {0, func(*bubble) {}, 1, false},
		"an hour ahead, over it":         {30 * minute, jump(hour), 1, false},
		"an hour ahead, before it":       {-hour, jump(hour), 1, false},
		"a day ahead, over it":           {30 * minute, jump(day), 0, true},
		"an hour back, over it":          {90 * minute, jump(-hour), 1, true},
		"an hour ahead and back":         {70 * minute, func(b *bubble) { b.machine.set(hour); b.until(80 * minute); b.machine.set(-hour) }, 1, false},
		"it sleeps over it":              {30 * minute, func(b *bubble) { b.machine.suspend(hour, true) }, 1, true},
		"it sleeps over it for too long": {30 * minute, func(b *bubble) { b.machine.suspend(3*hour, true) }, 0, false},
		"off over it, and 1970": {30 * minute, func(b *bubble) {
			b.close()
			b.machine.suspend(hour, true)
			b.machine.boot(epoch)
			b.open()
			b.until(100 * minute)
			b.machine.right()
		}, 1, false},
	} {
		if !allNights() && !c.usual {
			continue
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				b := newBubble(t, time.UTC, time.Date(2031, 5, 11, 9, 0, 0, 0, time.UTC))
				b.cfg.TestRing = config.TestRing{On: true, Day: time.Sunday, Hour: 10}
				b.open()
				b.begin()
				b.until(max(0, c.at))
				c.do(b)
				b.until(max(75*minute, b.machine.truth().Sub(b.machine.origin)+65*minute)) // a wait that was begun is an hour at most
				for _, way := range []*bubbleWay{b.phone, b.wall} {
					rings := 0
					for _, d := range way.taken() {
						if d.Kind == alerts.TestRing {
							rings++
						}
					}
					if rings != c.rings {
						t.Errorf("%d test rings through the %s, want %d", rings, way.name, c.rings)
					}
				}
				b.close()
			})
		})
	}
}
