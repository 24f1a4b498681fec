package app

import (
	"fmt"
	"slices"
	"testing"
	"time"
)

// The board's clock is ten minutes slow, or set to another zone: all it sends comes
// late. The fridge that warms behind it rings all the same, and somebody is told of the
// clock.
func TestAFridgeBehindASlowClockRings(t *testing.T) {
	for _, slow := range []time.Duration{10 * minute, 5 * hour} {
		s := newShop(t)
		s.open()
		s.begin(raw)
		s.every(minute, 0, 2*hour, func(after time.Duration) {
			value := 3.0
			if after > hour {
				value = 9
			}
			s.say("shop/spare", "3.1")
			s.say("shop/slow", fmt.Sprintf(`{"t":%q,"v":%g}`, s.clock.Now().Add(-slow).Format(time.RFC3339), value))
		})
		if heard := s.phone.heard(); !slices.Contains(heard, "C2 raised ring") || !slices.Contains(heard, "B6 raised tell") {
			t.Errorf("%v slow: the phone heard %q", slow, heard)
		}
	}
}
