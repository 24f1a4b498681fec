package process

import (
	"testing"
	"time"
)

// The first reading of a probe may be evaluated by a later start than the one that took it
// in, when flitch was killed in between: the silence after it counts from the reading. One
// that was old when it came says nothing of now, and silence counts from the start.
func TestAFirstReadingFromBeforeTheStartCounts(t *testing.T) {
	start := time.Date(2031, 5, 5, 6, 10, 0, 0, time.UTC)
	probe := PlacedProbe{Probe: "bottle", Place: "alder", Placement: Product, Interval: time.Minute}
	for _, c := range []struct {
		measured, received, heard time.Time
	}{
		{start.Add(-4 * time.Minute), start.Add(-4 * time.Minute), start.Add(-4 * time.Minute)},
		{start.Add(time.Minute), start.Add(time.Minute), start.Add(time.Minute)},
		{start.Add(-9 * time.Hour), start.Add(-4 * time.Minute), start},
	} {
		p := NewPlace("alder", WhereFridge, []PlacedProbe{probe}, start)
		in := Input{Kind: InputReading, At: c.received, Reading: Reading{Probe: "bottle", Measured: c.measured, Received: c.received, Value: 3}}
		StepPlace(p, in, nil)
		if got := p.Probes[0].Heard; !got.Equal(c.heard) {
			t.Errorf("measured %s, received %s: heard %s, want %s", c.measured, c.received, got, c.heard)
		}
	}
}
