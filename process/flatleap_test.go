package process

import (
	"testing"
	"time"
)

// A probe reads the same for as long as it has said so: what the clock leapt over, or a
// silence, is not a thermometer that stands still.
func TestALeapIsNoStandstill(t *testing.T) {
	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "slow", Placement: Product, Interval: 5 * minute}}, noon)
	p.Occupied = true
	flat := func(in Input) float64 {
		hours := -1.0
		for _, f := range StepPlace(p, in, nil) {
			if f.Measure == MeasureFlat {
				hours = f.Value
			}
		}
		return hours
	}
	say := func(at time.Time, v float64) float64 {
		return flat(Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Value: v}})
	}
	for m := time.Duration(-10) * minute; m < 0; m += 5 * minute {
		say(noon.Add(m), 3+m.Minutes()/50)
	}
	for m := time.Duration(0); m <= hour; m += 5 * minute {
		say(noon.Add(m), 3)
	}
	if got := flat(Input{Kind: InputTick, At: noon.Add(hour + minute)}); got != 1 {
		t.Errorf("after an hour of the same it says %v h", got)
	}
	after := noon.Add(hour + minute + 24*hour)
	if got := flat(Input{Kind: InputCommand, At: after, Command: Command{Kind: CommandFault, At: after.Add(-24 * hour), Typed: after,
		Clock: &ClockWord{Kind: ClockFollowed, From: after.Add(-24 * hour), To: after}}}); got > 1 {
		t.Errorf("with the leap it says %v h", got)
	}
	if got := flat(Input{Kind: InputTick, At: after}); got > 1 {
		t.Errorf("after a leap of a day it says %v h", got)
	}
	if got := say(after.Add(minute), 3); got > 1 {
		t.Errorf("with the next reading it says %v h", got)
	}
}
