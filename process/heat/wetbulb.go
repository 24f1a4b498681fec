package heat

import "math"

// fogK is the rounding by which the dew point of saturated air may pass the dry bulb.
const fogK = 1e-9

// WetBulb is the temperature of a wet sock in moving air, °C: what wet meat comes
// to without radiation. ok is false for air out of range and air with fog.
//
// ASHRAE's equation by bisection between the dew point and the lower of dry bulb
// and boiling point, where it has one solution also above 100 °C. Only around 0 °C,
// in air almost without water, a sock of ice and one of water stand apart, and it is
// one of the two.
func (a Air) WetBulb() (tC float64, ok bool) {
	if !a.valid() {
		return 0, false
	}
	low, high := minMoistC, a.DryC
	if dew, ok := a.DewPoint(); ok {
		low = dew
	}
	if low > a.DryC+fogK {
		return 0, false
	}
	if boil, ok := saturatedAt(a.PressurePa); ok {
		high = min(high, boil)
	}
	low = min(low, high)
	return bisect(func(t float64) float64 { return humidityAtWetBulb(a.DryC, t, a.PressurePa) - a.Humidity }, low, high), true
}

// humidityAtWetBulb is the humidity ratio of air from both bulbs (ASHRAE, kJ/kg;
// under 0 °C the sock is ice).
func humidityAtWetBulb(dryC, wetC, pressurePa float64) float64 {
	wet := humidityOf(saturation(wetC), pressurePa)
	if wetC < 0 {
		return ((2830-0.24*wetC)*wet - 1.006*(dryC-wetC)) / (2830 + 1.86*dryC - 2.1*wetC)
	}
	return ((2501-2.326*wetC)*wet - 1.006*(dryC-wetC)) / (2501 + 1.86*dryC - 4.186*wetC)
}

// AirOfWetBulb is the air from a dry and a wet bulb, °C, which is how to measure
// humidity in a smoker. ok is false when the wet bulb is over the dry one or over
// the boiling point, or so low that the air would hold less than no water.
func AirOfWetBulb(dryC, wetC, pressurePa float64) (a Air, ok bool) {
	a = Air{DryC: dryC, PressurePa: pressurePa}
	if !a.valid() || !(wetC >= minMoistC && wetC <= dryC) || !(saturation(wetC) < pressurePa) {
		return Air{}, false
	}
	a.Humidity = humidityAtWetBulb(dryC, wetC, pressurePa)
	return a, a.Humidity >= 0
}

// The range in which Stull's formula was fitted.
const (
	minStullC, maxStullC = -20.0, 50.0
	minStullRH           = 5.0 // from memory
	maxStullRH           = 99.0
)

// StullWetBulb is the wet bulb at sea level by the short formula of Stull 2011, °C.
// It is for comparison with other people's numbers only: WetBulb is exact and
// knows the pressure. ok is false outside -20 to 50 °C, where the formula is far
// off and no smoker is, and outside 5 to 99 % (from memory).
func StullWetBulb(dryC, rhPct float64) (tC float64, ok bool) {
	if !(dryC >= minStullC && dryC <= maxStullC) || !(rhPct >= minStullRH && rhPct <= maxStullRH) {
		return 0, false
	}
	return dryC*math.Atan(0.151977*math.Sqrt(rhPct+8.313659)) + math.Atan(dryC+rhPct) - math.Atan(rhPct-1.676331) +
		0.00391838*math.Pow(rhPct, 1.5)*math.Atan(0.023101*rhPct) - 4.686035, true
}
