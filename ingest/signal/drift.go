package signal

import "math"

const (
	driftSlack = 0.5 // of a standard deviation that a pair may differ by for ever
	driftAlarm = 5.0 // standard deviations of sum

	// LeastSigma is the least standard deviation of a pair's difference, K.
	LeastSigma = 0.1

	// QuietMin is how often a pair is compared, minutes, when neither moves.
	QuietMin = 10.0
)

// A Drift tells whether two probes in one place drift apart: a cumulative sum (Page
// 1954, from memory) of their difference. The zero value is ready.
type Drift struct {
	Plus, Minus float64 // sums, in standard deviations
}

// Add takes one difference of the pair, K, and the standard deviation it has when
// both are well, K: that of the first day. It reports whether they have drifted. A
// difference that is no number is left out.
func (d *Drift) Add(difference, sigma float64) bool {
	if !math.IsNaN(difference) && !math.IsInf(difference, 0) {
		z := difference / max(sigma, LeastSigma)
		d.Plus = max(0, d.Plus+z-driftSlack)
		d.Minus = max(0, d.Minus-z-driftSlack)
	}
	return d.Plus > driftAlarm || d.Minus > driftAlarm
}
