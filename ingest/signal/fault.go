package signal

import "math"

// A Fault is why a sample is not believed. A sample with one is kept, marked and
// left out of every sum.
type Fault uint8

// The faults, in the order they are tested. A sample with one of the first four is
// not tested further and no other sample is tested against it.
const (
	Missing  Fault = 1 << iota // no number
	Sentinel                   // a number that means something else
	Range                      // outside what the place can be
	Spike                      // stands alone
	Rate                       // changed faster than the place can
	Flat                       // does not move
)

// Faulty reports whether a sample with these faults is no measurement by itself.
// Rate is not among them: a core that jumps is a probe that was pulled, and whoever
// tells events apart must see it.
func (f Fault) Faulty() bool { return f&(Missing|Sentinel|Range|Spike) != 0 }

// IsSpike reports a sample that stands more than limit, K, outside its two
// neighbours. The form is that of gross tests of ocean data (from memory).
func IsSpike(before, x, after, limit float64) bool {
	return math.Abs(x-(before+after)/2)-math.Abs(after-before)/2 > limit
}

// IsRate reports a change in so many minutes, > 0, that is faster than limit, K/min.
func IsRate(last, x, minutes, limit float64) bool {
	return math.Abs(x-last) > limit*minutes
}

// IsFlat reports values that differ by no more than the probe resolves, K. Whether
// they ought to have moved is for the caller to know: a fridge at rest stands still.
func IsFlat(values []float64, resolution float64) bool {
	if len(values) == 0 {
		return false
	}
	low, high := values[0], values[0]
	for _, v := range values {
		low, high = min(low, v), max(high, v)
	}
	return high-low <= resolution
}

// Limits are what the samples of one probe are tested with.
type Limits struct {
	Lo, Hi     float64   // °C, both ends belong to it
	Codes      []float64 // that mean something else than a temperature
	Doubtful   []float64 // that do so beside a reading more than 5 K away, and as a first reading
	SpikeC     float64   // K
	RatePerMin float64   // K/min
	FlatN      int       // samples, up to 60; 0: not tested
	Resolution float64   // K; 0: identical readings are flat
}

// DoubtK is how near a neighbour must be for a doubtful code to be a temperature, K.
const DoubtK = 5.0

// Spike limits, K, of samples about a minute apart (proposals of this project).
const (
	spikeCore = 2
	spikeCold = 4
	spikeHot  = 15
)

// SpikeLimit is how far a sample of a placement may stand outside its neighbours, K;
// 0 for placements that are not tested.
func SpikeLimit(placement string) float64 {
	switch {
	case placement == "core":
		return spikeCore
	case cold(placement):
		return spikeCold
	case thermal(placement):
		return spikeHot
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

// maxFlat is how many samples a Screen remembers.
const maxFlat = 60

// LimitsOf gives the limits of a placement for a sample each minute. ok is false for
// placements that have none. Ranges as in Check; all numbers are proposals of this
// project.
func LimitsOf(placement string) (l Limits, ok bool) {
	b, known := rangeOf(placement)
	if !known || !thermal(placement) {
		return Limits{}, false
	}
	l = Limits{Lo: b.lo, Hi: b.hi, SpikeC: SpikeLimit(placement)}
	for _, c := range codes() {
		if c.coldOnly && !cold(placement) {
			l.Doubtful = append(l.Doubtful, c.value)
		} else {
			l.Codes = append(l.Codes, c.value)
		}
	}
	switch {
	case placement == "core":
		l.RatePerMin, l.FlatN = 2.5, 20
	case cold(placement):
		l.RatePerMin, l.FlatN = 8, 60
	default: // chamber, and the wet bulb in it
		l.RatePerMin, l.FlatN = 60, 15
	}
	return l, true
}
