package sensor

import (
	"fmt"
	"math"
)

// Platinum after IEC 60751 (coefficients read in copies of the standard):
// R = R0·(1 + A·t + B·t² + C·(t−100)·t³), C only below 0 °C.
const (
	platinumA = 3.9083e-3
	platinumB = -5.775e-7
	platinumC = -4.183e-12

	coldestPlatinum = -200.0 // °C, the ends of the standard
	hottestPlatinum = 850.0
)

// PlatinumOhm is the resistance of a sensor with r0 Ω at 0 °C, from −200 to 850 °C.
// ok is false outside.
func PlatinumOhm(r0, tC float64) (ohm float64, ok bool) {
	if !(tC >= coldestPlatinum && tC <= hottestPlatinum) {
		return math.NaN(), false
	}
	return r0 * platinumRatio(tC), true
}

func platinumRatio(t float64) float64 {
	ratio := 1 + t*(platinumA+t*platinumB)
	if t < 0 {
		ratio += platinumC * (t - 100) * t * t * t
	}
	return ratio
}

// PlatinumTempC is the temperature of a resistance, °C: above 0 °C the root of the
// square, below by halving.
func PlatinumTempC(r0, ohm float64) (tC float64, why string) {
	ratio := ohm / r0
	switch {
	case !(ratio >= platinumRatio(coldestPlatinum)):
		return none("%.6g Ω is colder than %.0f °C: a short circuit", ohm, coldestPlatinum)
	case ratio > platinumRatio(hottestPlatinum):
		return none("%.6g Ω is hotter than %.0f °C: the wire or the plug is open", ohm, hottestPlatinum)
	case ratio < 1:
		return root(platinumRatio, ratio, coldestPlatinum, 0), ""
	}
	return (-platinumA + math.Sqrt(platinumA*platinumA-4*platinumB*(1-ratio))) / (2 * platinumB), ""
}

// Platinum makes a Conversion of a sensor of r0 Ω at 0 °C (100 or 1000) that sends Ω.
// leadOhm is the resistance of both wires together, which a two-wire meter adds: each
// 0.39 Ω of a Pt100 reads as a kelvin too much.
func Platinum(r0, leadOhm float64) (Conversion, error) {
	if !(leadOhm >= 0 && leadOhm <= r0/2) {
		return nil, fmt.Errorf("wires of %g Ω are not from 0 to %g", leadOhm, r0/2)
	}
	return func(sent, _ float64) (float64, string) {
		tC, why := PlatinumTempC(r0, sent-leadOhm)
		if why != "" && leadOhm > 0 {
			why = fmt.Sprintf("%.6g Ω less %g Ω of the wires: %s", sent, leadOhm, why)
		}
		return tC, why
	}, nil
}

// ToleranceC is how far off a new platinum sensor may be at a temperature, K: class
// "A" ±(0.15 + 0.002·|t|) or "B" ±(0.3 + 0.005·|t|) of IEC 60751. ok is false for
// another class.
func ToleranceC(class string, tC float64) (tolerance float64, ok bool) {
	switch class {
	case "A":
		return 0.15 + 0.002*math.Abs(tC), true
	case "B":
		return 0.3 + 0.005*math.Abs(tC), true
	}
	return 0, false
}
