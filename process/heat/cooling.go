package heat

import "math"

const (
	// ModelError is the part of a forecast added to its spread, because the meat is
	// no lumped body (choice of this project, not fitted).
	ModelError = 0.10

	// HopelessK is how far, K, the air must be under a limit for the limit to be
	// reached at all (choice of this project).
	HopelessK = 0.3
)

// A Cooling is a core on its way to the temperature of the air: (T - air) falls by
// e each TauH hours (Newton). The Sd are standard deviations.
type Cooling struct {
	NowC, SdNow float64 // core, °C and K
	AirC, SdAir float64 // air, °C and K
	TauH, SdTau float64 // time constant, hours, > 0
}

// A Crossing is when a cooling core will pass a limit, from now.
type Crossing struct {
	Hours   float64 // 0 when it is at or under the limit already
	SdHours float64 // from what was measured; delta method
}

// Crossing returns when the core passes limitC (°C). ok is false when it never
// will at this temperature of the air, which is worth an alarm by itself, and when
// the cooling is not known.
//
// t = tau ln((T-air)/(limit-air)), Newton's law solved for the time.
func (c Cooling) Crossing(limitC float64) (Crossing, bool) {
	if !(c.TauH > 0) || math.IsInf(c.TauH, 1) || math.IsNaN(c.NowC) {
		return Crossing{}, false
	}
	if c.NowC <= limitC {
		return Crossing{}, true
	}
	if !(c.AirC < limitC-HopelessK) {
		return Crossing{}, false
	}
	over, left := c.NowC-c.AirC, limitC-c.AirC
	folds := math.Log(over / left)
	spread := math.Hypot(folds*c.SdTau, math.Hypot(c.TauH*c.SdNow/over, c.TauH*c.SdAir*(1/left-1/over)))
	return Crossing{Hours: c.TauH * folds, SdHours: spread}, true
}

// Sd is the whole standard deviation, hours: what was measured and ModelError, as
// independent errors.
func (x Crossing) Sd() float64 { return math.Hypot(x.SdHours, ModelError*x.Hours) }

// Late is the probability, 0 to 1, that the crossing comes after limitH hours from
// now: the tail of a normal distribution.
func (x Crossing) Late(limitH float64) float64 {
	sd := x.Sd()
	if sd == 0 {
		if x.Hours > limitH {
			return 1
		}
		return 0
	}
	return 0.5 * math.Erfc((limitH-x.Hours)/(sd*math.Sqrt2))
}

// interval80 is how many standard deviations an 80 % interval reaches each way.
const interval80 = 1.2816

// Interval returns the 80 % interval of the crossing, hours from now, the early
// end not before now.
func (x Crossing) Interval() (early, late float64) {
	return max(0, x.Hours-interval80*x.Sd()), x.Hours + interval80*x.Sd()
}

// AirNeeded returns the temperature of the air, °C, at which the core passes
// limitC in leftH hours: limit - (T - limit)/(e^(left/tau) - 1). It is -infinite
// when no time is left, and +infinite when the core has passed.
func (c Cooling) AirNeeded(limitC, leftH float64) float64 {
	if c.NowC <= limitC {
		return math.Inf(1)
	}
	if !(leftH > 0) {
		return math.Inf(-1)
	}
	return limitC - (c.NowC-limitC)/math.Expm1(leftH/c.TauH)
}
