package cure

import "math"

// The diffusivity of salt, nitrite and nitrate in the water of pork.
const (
	// ReferenceD is the value at ReferenceC, m²/s. A choice of this project between
	// the seen values for pork: loin slices at 5 °C 1.9e-10 (NaCl), MRI 3e-10 to
	// 7e-10 (NaCl), across the fibres 0.9e-10 to 1.4e-10 (nitrate). It was picked so
	// that a 1.5 in belly in a bag takes the customary 7 days at 4 °C: that custom is
	// a calibration here, not a test.
	ReferenceD = 2.2e-10

	// ReferenceC is the temperature of ReferenceD, °C.
	ReferenceC = 5.0

	// SpreadD is the factor on ReferenceD, up and down, of an 80 % interval: a
	// judgement that spans the seen groups, not a statistic.
	SpreadD = 1.67

	// ActivationEnergy is in J/mol: between nitrate in pork 24.7e3 (seen) and ions
	// in water 22.7e3 (computed).
	ActivationEnergy = 24e3

	// FrozenBelowC is the temperature under which nothing moves, °C (assumption).
	FrozenBelowC = -2.0

	// ThawedFactor multiplies the diffusivity of meat that was frozen and thawed: about
	// 30 % more in lean (seen). Use it on transformed time.
	ThawedFactor = 1.3
)

const (
	gasConstant = 8.314462618 // J/(mol K), SI
	zeroC       = 273.15      // K
)

// Diffusivity returns D at tempC, °C, in m²/s, by the Arrhenius law. It is 0
// below FrozenBelowC and for a value that is no number. The basis is cold meat,
// 0 to 12 °C; nothing supports the value above about 30 °C.
func Diffusivity(tempC float64) float64 {
	if !(tempC >= FrozenBelowC) {
		return 0
	}
	return ReferenceD * arrhenius(tempC, ReferenceC)
}

// RelativeRate returns how many days of cure at refC one day at tempC is worth,
// D(tempC)/D(refC). Near 4 °C it changes by 3.8 % per kelvin. It is 0 when either
// is below FrozenBelowC or no number.
func RelativeRate(tempC, refC float64) float64 {
	if !(tempC >= FrozenBelowC) || !(refC >= FrozenBelowC) {
		return 0
	}
	return arrhenius(tempC, refC)
}

func arrhenius(tempC, refC float64) float64 {
	return math.Exp(-ActivationEnergy / gasConstant * (1/(tempC+zeroC) - 1/(refC+zeroC)))
}
