package cure

import "math"

// The half-life of nitrite in raw meat, hours, is 10^(halfLife0 + halfLifeT T +
// halfLifePH pH), T in °C: Nordin 1969, Can. Inst. Food Technol. J. 2:79, from
// memory by way of reviews. Uncertain by a factor of 2.
const (
	halfLife0  = 0.65
	halfLifeT  = -0.025
	halfLifePH = 0.35
)

// DefaultPH is the pH of pork, 5.4 to 6.3 occur (from memory).
const DefaultPH = 5.8

// NitriteHalfLife returns hours at tempC, °C, and a pH.
func NitriteHalfLife(tempC, pH float64) float64 {
	return math.Pow(10, halfLife0+halfLifeT*tempC+halfLifePH*pH)
}

// NitriteDecay returns the integral of the decay rate on a straight line from t1C
// to t2C (°C) over the given hours: add up the segments of the cure and give the
// sum to NitriteLeft. The law is exponential in temperature, so the integral is
// exact (logarithmic mean). It is 0 for hours that are not positive and for values
// that are no finite numbers.
func NitriteDecay(t1C, t2C, hours, pH float64) float64 {
	if !(hours > 0) || !finite(t1C) || !finite(t2C) {
		return 0
	}
	first := math.Ln2 / NitriteHalfLife(t1C, pH)
	x := halfLifeT * (t1C - t2C) * math.Ln10
	if x == 0 {
		return first * hours
	}
	return first * math.Expm1(x) / x * hours
}

// NitriteLeft returns the part of the ingoing nitrite still there, 0 to 1, after
// the summed decay. Protection is judged on the ingoing dose, not on this.
func NitriteLeft(decay float64) float64 { return math.Exp(-decay) }
