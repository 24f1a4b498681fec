package signal

import (
	"math"
	"strings"
)

// A Fault is why a sample is not believed. A sample with one is kept, marked, counted
// and left out of every sum.
type Fault uint16

// The faults, in the order they are tested. A sample with one of the first five is
// not tested further and no other sample is tested against it.
const (
	Missing   Fault = 1 << iota // no number
	Sentinel                    // a number that means something else
	Range                       // outside what the place can be
	OtherUnit                   // the step to another unit, until somebody says which
	Spike                       // stands alone
	Rate                        // changed faster than the place can
	Flat                        // does not move, and ought to
	PairDrift                   // its neighbour of the same kind goes away from it
	AboveAir                    // a core hotter than the air that heats it, or than boiling water
	DrySock                     // a wet bulb that reads as the air beside it
	OutOfUse                    // its probe failed its check
)

// Faults are all of them, in their order.
func Faults() []Fault {
	return []Fault{Missing, Sentinel, Range, OtherUnit, Spike, Rate, Flat, PairDrift, AboveAir, DrySock, OutOfUse}
}

// String is the words of the faults, joined by "+"; empty for none.
func (f Fault) String() string {
	words := [...]string{"missing", "sentinel", "range", "unit", "spike", "rate", "flat", "pair drift", "above the air", "dry sock", "out of use"}
	var out []string
	for i, w := range words {
		switch {
		case f == 1<<i: // the usual one: it is asked for with each reading that is left out
			return w
		case f&(1<<i) != 0:
			out = append(out, w)
		}
	}
	return strings.Join(out, "+")
}

// Faulty reports whether a sample with these faults is no measurement by itself.
// Rate is not among them: a core that jumps is a probe that was pulled, and a chamber
// that jumps may be a fire; whoever tells events apart must see it.
func (f Fault) Faulty() bool { return f&(Missing|Sentinel|Range|OtherUnit|Spike) != 0 }

// IsSpike reports a sample that stands more than limit, K, outside its two
// neighbours. The form is that of gross tests of ocean data (from memory).
func IsSpike(before, x, after, limit float64) bool {
	return math.Abs(x-(before+after)/2)-math.Abs(after-before)/2 > limit
}

// LeastRateMin is the shortest time a rate is taken over, minutes: over less, the
// digits of the probe would be a rate (proposal).
const LeastRateMin = 1.0

// IsRate reports a change in so many minutes that is faster than limit, K/min; a limit
// of 0 is not tested. Less than LeastRateMin counts as that.
func IsRate(last, x, minutes, limit float64) bool {
	return limit > 0 && math.Abs(x-last) > limit*max(minutes, LeastRateMin)
}

// DoubtK is how near a neighbour must be for a doubtful code to be a temperature, K.
const DoubtK = 5.0

// Spike limits, K, and rates, K/min, of samples about a minute apart (proposals of
// this project).
const (
	spikeCore, rateCore = 2, 2.5
	spikeCold, rateCold = 4, 8
	spikeHot, rateHot   = 15, 60
)

// SpikeLimit is how far a sample of a placement may stand outside its neighbours, K;
// 0 for placements that are not tested.
func SpikeLimit(placement string) float64 { return byHeat(placement, spikeCore, spikeCold, spikeHot) }

// RateLimit is how fast a placement can change, K/min; 0 for placements that are not
// tested. A core of known size has its own: twice what its physics allow.
func RateLimit(placement string) float64 { return byHeat(placement, rateCore, rateCold, rateHot) }

func byHeat(placement string, core, cool, hot float64) float64 {
	switch {
	case placement == "core":
		return core
	case cold(placement):
		return cool
	case thermal(placement): // chamber, and the wet bulb in it
		return hot
	}
	return 0
}

// Doubtful reports a code that may be a true temperature in a hot placement, if a
// neighbour is within DoubtK of it.
func Doubtful(value float64, placement string) bool {
	if !thermal(placement) || cold(placement) {
		return false
	}
	for _, c := range codes() {
		if c.coldOnly && math.Abs(value-c.value) <= near {
			return true
		}
	}
	return false
}
