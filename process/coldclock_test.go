package process

import (
	"testing"
	"time"
)

// Two probes in one fridge: the one that was not heard for hours may have been in the
// warmer corner, also when the other was warm for a moment.
func TestTheCornerNobodySaw(t *testing.T) {
	for name, c := range map[string]struct {
		silent time.Duration
		want   Verdict
	}{"heard": {0, Met}, "not heard for three hours": {3 * hour, NotMeasured}} {
		d := newDiary(t)
		d.batch.Tracks = append(d.batch.Tracks, newTrack(PlacedProbe{Probe: "corner", Place: "alder", Placement: Product, Interval: 5 * minute, Uncertainty: 0.5}, d.batch.Plan))
		for at := time.Duration(0); at <= 5*day; at += 5 * minute {
			slow := 3.0
			if at > day && at <= day+20*minute {
				slow = 6
			}
			d.read("slow", at, slow)
			if at < 2*day || at >= 2*day+c.silent {
				d.read("corner", at, 3.2)
			}
		}
		cook(d)
		if got := d.clock(ClockCold); got.Verdict != c.want {
			t.Errorf("%s: %+v", name, got)
		}
	}
}
