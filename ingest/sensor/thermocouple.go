package sensor

import "math"

// The reference function of type K, NIST ITS-90 (coefficients read; mV and °C).
var (
	kAbove = [...]float64{-0.17600413686e-1, 0.38921204975e-1, 0.1855877003e-4, -0.99457592874e-7, 0.31840945719e-9,
		-0.56072844889e-12, 0.56075059059e-15, -0.32020720003e-18, 0.97151147152e-22, -0.12104721275e-25}
	kBelow = [...]float64{0, 0.39450128025e-1, 0.23622373598e-4, -0.32858906784e-6, -0.49904828777e-8, -0.67509059173e-10,
		-0.57410327428e-12, -0.31088872894e-14, -0.10451609365e-16, -0.19889266878e-19, -0.16322697486e-22}
)

const (
	coldestK = -200.0 // °C; below it a wire hardly tells a kelvin (ITS-90 goes to −270)
	hottestK = 1372.0

	coldestJunction = -40.0 // °C, where the electronics of a cold junction live (proposal)
	hottestJunction = 125.0

	// chipMVPerK is what converter chips take type K for when they add the cold
	// junction as a temperature (their data sheets, as read in public copies).
	chipMVPerK = 0.041276
)

// ThermocoupleMV is the voltage of type K, mV, between a junction at tC and one at
// 0 °C, from −200 to 1372 °C. ok is false outside.
func ThermocoupleMV(tC float64) (mV float64, ok bool) {
	if !(tC >= coldestK && tC <= hottestK) {
		return math.NaN(), false
	}
	return kMV(tC), true
}

func kMV(t float64) float64 {
	if t < 0 {
		return polynomial(kBelow[:], t)
	}
	d := t - 126.9686
	return polynomial(kAbove[:], t) + 0.1185976*math.Exp(-1.183432e-4*d*d)
}

func polynomial(c []float64, x float64) float64 {
	sum := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		sum = sum*x + c[i]
	}
	return sum
}

// ThermocoupleTempC is the temperature of the hot junction, °C, of type K that gives
// mV with the cold one at coldC. Voltages are added, never temperatures: the wire is
// no straight line.
func ThermocoupleTempC(mV, coldC float64) (tC float64, why string) {
	if !(coldC >= coldestJunction && coldC <= hottestJunction) {
		return none("the cold junction says %.6g °C, which is not from %.0f to %.0f", coldC, coldestJunction, hottestJunction)
	}
	sum := mV + kMV(coldC)
	if !(sum >= kMV(coldestK) && sum <= kMV(hottestK)) {
		return none("%.6g mV is outside %.0f to %.0f °C: the thermocouple is open", mV, coldestK, hottestK)
	}
	return root(kMV, sum, coldestK, hottestK), ""
}

// Millivolts is the Conversion of a thermocouple K that sends mV.
func Millivolts() Conversion { return ThermocoupleTempC }

// Linear is the Conversion of one behind a converter chip that sends °C by a straight
// line of 41.276 µV/K: 3 K wrong at 250 °C. It is taken back to volts and read anew.
func Linear() Conversion {
	return func(sent, coldC float64) (float64, string) {
		tC, why := ThermocoupleTempC((sent-coldC)*chipMVPerK, coldC)
		if why != "" && coldC >= coldestJunction && coldC <= hottestJunction {
			return none("%.6g °C is outside %.0f to %.0f °C: the thermocouple is open", sent, coldestK, hottestK)
		}
		return tC, why
	}
}
