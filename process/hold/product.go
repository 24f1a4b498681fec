package hold

import "math"

const (
	// DefaultTauMin is the time constant of a product nobody described, minutes.
	// Short is strict: it follows the air sooner than most pieces do (choice of this
	// project).
	DefaultTauMin = 90.0

	// MaxGapMin is the longest gap over which air is taken as a straight line,
	// minutes (choice of this project).
	MaxGapMin = 15.0
)

// An Estimate is the temperature of a product, from the air it lies in. LowC and
// HighC part from it over gaps of the air and come together again afterwards, as
// fast as the product forgets.
type Estimate struct {
	ProductC    float64 // °C
	LowC, HighC float64 // if the whole of each gap was as cold, as warm, as its colder, warmer end
	AirC        float64 // the air it was made at, °C
	Stale       bool    // the last step went over a gap
}

// Begin starts an estimate from a product and its air, °C. Without a measurement a
// product is begun at the warmer of what it may be: that is strict.
func Begin(productC, airC float64) Estimate {
	return Estimate{ProductC: productC, LowC: productC, HighC: productC, AirC: airC}
}

// Next carries the estimate on to the next sample of the air, °C, minutes later,
// with a time constant in minutes. Air is a straight line between samples; over a
// gap longer than MaxGapMin it stays as it was, and the estimate says Stale. ok is
// false, and the estimate the old one, for time that does not go on, a time
// constant that is not positive, and values that are no numbers.
func (e Estimate) Next(airC, minutes, tauMin float64) (next Estimate, ok bool) {
	if !(minutes > 0) || !(tauMin > 0) || !finite(airC, minutes, tauMin, e.ProductC, e.AirC) {
		return e, false
	}
	next = Estimate{AirC: airC, Stale: minutes > MaxGapMin}
	if !next.Stale {
		next.ProductC = follow(e.ProductC, e.AirC, airC, minutes, tauMin)
		next.LowC = follow(e.LowC, e.AirC, airC, minutes, tauMin)
		next.HighC = follow(e.HighC, e.AirC, airC, minutes, tauMin)
		return next, true
	}
	cold, warm := min(e.AirC, airC), max(e.AirC, airC)
	next.ProductC = follow(e.ProductC, e.AirC, e.AirC, minutes, tauMin)
	next.LowC = follow(e.LowC, cold, cold, minutes, tauMin)
	next.HighC = follow(e.HighC, warm, warm, minutes, tauMin)
	return next, true
}

// Follow is where a product comes, °C, that starts at productC while the air goes in
// a straight line from fromC to toC in some minutes. Exact for a product of one
// temperature: dTp/dt = (Ta - Tp)/tau gives, with slope s over time D,
//
//	Tp' = Ta + s (D - tau) + (Tp - Ta + s tau) exp(-D/tau).
//
// minutes >= 0, tauMin > 0; NaN otherwise.
func Follow(productC, fromC, toC, minutes, tauMin float64) float64 {
	if !(minutes >= 0) || !(tauMin > 0) {
		return math.NaN()
	}
	return follow(productC, fromC, toC, minutes, tauMin)
}

// follow is the formula with the small differences taken first, so that a step of a
// second keeps its digits.
func follow(productC, fromC, toC, minutes, tauMin float64) float64 {
	if minutes == 0 {
		return productC
	}
	gone := -math.Expm1(-minutes / tauMin)
	return productC + (fromC-productC)*gone + (toC-fromC)*(1-gone*tauMin/minutes)
}

// MinutesTo is how long until the product reaches a limit above it, °C, if the air
// stays as it is: t = tau ln((Ta - Tp)/(Ta - Tl)). It is 0 at and over the limit. ok
// is false when it never gets there in this air, and when something is unknown.
func (e Estimate) MinutesTo(limitC, tauMin float64) (minutes float64, ok bool) {
	if !(tauMin > 0) || !finite(e.ProductC, e.AirC, limitC, tauMin) {
		return 0, false
	}
	if e.ProductC >= limitC {
		return 0, true
	}
	if e.AirC <= limitC {
		return 0, false
	}
	return tauMin * math.Log((e.AirC-e.ProductC)/(e.AirC-limitC)), true
}
