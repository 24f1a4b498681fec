package app

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// Who waits outside for signs of life: the beat goes every five minutes, the supervisor is told
// every three minutes at most that the engine answers. A step of the clock holds neither up for
// longer than until the next reading, which comes every five minutes, and makes no more of them;
// while nothing runs there is none, and the outside rings, as it should.
const (
	mostApart = 5*minute + 5*minute + proofAgain + time.Second
	hours     = 2 * hour
)

// Those that run with all tests.
var brief = []string{"a day ahead", "an hour back", "it sleeps", "off, and 1970"}

func TestTheSignsOfLifeGoOnInTheNights(t *testing.T) {
	for _, n := range nights {
		if n.evening != ordinary || !allNights() && !slices.Contains(brief, n.name) {
			continue // no change of the clocks is that early
		}
		t.Run(n.name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				b := newBubble(t, time.UTC, dawn.Add(12*hour))
				b.open()
				b.begin()
				b.until(47 * minute)
				if n.happens != nil {
					n.happens(b)
				}
				b.until(max(b.machine.truth().Sub(b.machine.origin), 83*minute))
				if n.over != nil {
					n.over(b)
				}
				b.until(hours + n.gone)
				b.close()
				for _, broken := range b.signs(n) {
					t.Error(broken)
				}
			})
		})
	}
}

// The control: half an hour without a reading is found.
func TestAMissingSignOfLifeIsFound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBubble(t, time.UTC, dawn.Add(12*hour))
		b.open()
		b.begin()
		b.until(47 * minute)
		b.mute = true
		b.until(77 * minute)
		b.mute = false
		b.until(hours)
		b.close()
		if broken := b.signs(night{}); len(broken) != 1 || !strings.HasPrefix(broken[0], "no beat between") {
			t.Errorf("found %q", broken)
		}
	})
}

// signs says what of the signs of life was missing.
func (b *bubble) signs(n night) (broken []string) {
	fail := func(form string, args ...any) { broken = append(broken, fmt.Sprintf(form, args...)) }
	last, slept := b.machine.origin, false
	for _, at := range append(b.beats, b.machine.truth()) {
		apart := at.Sub(last)
		if apart > mostApart && !slept && n.gone > 0 {
			slept = true
			apart -= n.gone
		}
		if apart > mostApart {
			fail("no beat between %v and %v", last, at)
		}
		last = at
	}
	if most := int(hours/(5*minute)) + 3; len(b.beats) > most {
		fail("%d beats, at most %d were due", len(b.beats), most)
	}
	if len(b.beats) < 20 {
		fail("only %d beats", len(b.beats))
	}
	for i, at := range b.fed[1:] {
		if apart := at.Sub(b.fed[i]); apart >= b.Every()/2 { // of the time in which timers run, as the supervisor's
			fail("the supervisor heard nothing for %v", apart)
		}
	}
	return broken
}
