package hold

import (
	"math"
	"testing"
)

// longestRestless is the longest time without a rest while there was a pattern, and how
// many rests were seen.
func longestRestless(air []AirAt) (longest float64, n int) {
	var w FridgeWatch
	for _, a := range air {
		w.Add(a.Min, a.C)
		if minutes, ok := w.SinceRest(a.Min); ok {
			longest = max(longest, minutes)
		}
	}
	return longest, w.Rests.N
}

// Fridges that work rest each hour, whatever doors and defrosts do to their air.
func TestWorkingFridgesRest(t *testing.T) {
	all := fridges(t)
	for _, name := range []string{"F1_normal", "F2_door_often", "F3_defrost_8h"} {
		if longest, n := longestRestless(all[name]); n < 2*restsMany || longest > 120 {
			t.Errorf("%s: %d rests, %.0f min without one", name, n, longest)
		}
	}
}

// After a day of rests the compressor only just holds the air; doors let it jump, a
// noise is on it, and the room warms it slowly. None of that is a rest.
func TestACompressorThatNeverRests(t *testing.T) {
	air := fridges(t)["F1_normal"]
	from := air[len(air)-1].Min
	for m := 2.0; m <= 9*60; m += 2 {
		door := 1.4 * math.Exp(-math.Mod(m, 90)/12) // each hour and a half, and back in a quarter
		air = append(air, AirAt{from + m, math.Round(10*(6+m/300+door+0.1*math.Sin(7*m))) / 10})
	}
	var w FridgeWatch
	for _, a := range air {
		w.Add(a.Min, a.C)
	}
	if minutes, ok := w.SinceRest(from + 9*60); !ok || minutes < 8.5*60 || minutes > 10*60 {
		t.Errorf("%.0f min without a rest (known %v), want about nine hours", minutes, ok)
	}
	w.Add(from+10*60, 6) // nobody saw the air for an hour
	if minutes, _ := w.SinceRest(from + 10*60); minutes != 0 {
		t.Errorf("%.0f min without a rest, and nobody looked", minutes)
	}
}

// A compressor that never stops by design has no pattern to leave.
func TestAlwaysRunningIsNoPattern(t *testing.T) {
	var w FridgeWatch
	for m := range 2000 {
		w.Add(float64(m), 3+0.1*math.Sin(float64(m)/20))
	}
	if minutes, ok := w.SinceRest(2000); ok {
		t.Errorf("%.0f min without a rest, of %d rests", minutes, w.Rests.N)
	}
}
