package heat

import "math"

// The range of the saturation line, Pa: triple point to critical point.
const (
	minSteamPa = 611.213
	maxSteamPa = 22.064e6
)

// BoilingPoint is the temperature at which water boils, °C, at a pressure from
// 611.213 Pa to 22.064 MPa. ok is false outside. Give it the pressure at the
// station, not one reduced to sea level as the weather report does.
//
// IAPWS-IF97, region 4, backward equation; coefficients read in public copies, one
// of which has the fifth wrong (-0.32325550322333e7 is right). The official values
// at 0.1 and 1 MPa, from memory, are met.
func BoilingPoint(pressurePa float64) (tC float64, ok bool) {
	if !(pressurePa >= minSteamPa && pressurePa <= maxSteamPa) {
		return 0, false
	}
	beta := math.Sqrt(math.Sqrt(pressurePa / 1e6))
	e := beta*beta - 0.17073846940092e2*beta + 0.14915108613530e2
	f := 0.11670521452767e4*beta*beta + 0.12020824702470e5*beta - 0.48232657361591e4
	g := -0.72421316703206e6*beta*beta - 0.32325550322333e7*beta + 0.40511340542057e6
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	const n9, n10 = -0.23855557567849, 0.65017534844798e3
	return (n10+d-math.Sqrt((n10+d)*(n10+d)-4*(n9+n10*d)))/2 - zeroK, true
}

// What a probe may be off before it is to be replaced (choice of this project).
const (
	minGain, maxGain = 0.97, 1.03
	maxIceOffK       = 2.0
)

// A Calibration turns the readings of a probe into temperatures.
type Calibration struct {
	Gain    float64 // 1 for a perfect probe
	OffsetC float64 // °C, added after the gain
}

// TwoPoint calibrates a probe from its readings in ice water and in boiling water,
// °C, at the pressure of the place. ok is false when that cannot be computed;
// accept is false when the probe is so far off, gain outside 0.97 to 1.03 or ice
// over 2 K, that it is to be replaced and not corrected.
func TwoPoint(iceC, boilC, pressurePa float64) (c Calibration, accept, ok bool) {
	boil, ok := BoilingPoint(pressurePa)
	span := boilC - iceC
	if !ok || !(span > 0) || math.IsInf(span, 1) {
		return Calibration{}, false, false
	}
	c.Gain = boil / span
	c.OffsetC = -iceC * c.Gain
	return c, Correctable(c.Gain, iceC), true
}

// Correctable reports whether a probe that needs such a gain and sends iceC, °C, in ice
// water may be corrected: gain from 0.97 to 1.03 and ice within 2 K. Another is to be
// replaced.
func Correctable(gain, iceC float64) bool {
	return gain >= minGain && gain <= maxGain && math.Abs(iceC) <= maxIceOffK
}

// Correct returns the temperature of a reading, °C.
func (c Calibration) Correct(readingC float64) float64 { return readingC*c.Gain + c.OffsetC }
