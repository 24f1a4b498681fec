package heat

import "math"

const (
	zeroK      = 273.15   // 0 °C in K
	SeaLevelPa = 101325.0 // standard atmosphere, Pa

	// vapourMass is the mass of a mole of water over that of dry air (ASHRAE).
	vapourMass = 0.621945

	// The formulas of saturation hold from -100 (from memory) to 200 °C (ASHRAE).
	minMoistC = -100.0
	maxMoistC = 200.0

	// The pressure of standard air holds from -5000 to 11000 m (from memory).
	minAltitudeM = -5000.0
	maxAltitudeM = 11000.0
)

// PressureAt is the pressure of standard air, Pa, at an altitude, m, -5000 to
// 11000. ok is false outside. ASHRAE, formula read. Weather moves the true one by
// some 3 % (common knowledge, no source).
func PressureAt(altitudeM float64) (pa float64, ok bool) {
	if !(altitudeM >= minAltitudeM && altitudeM <= maxAltitudeM) {
		return 0, false
	}
	return SeaLevelPa * math.Pow(1-2.25577e-5*altitudeM, 5.2559), true
}

// Saturation is the pressure of water vapour over water, and under 0 °C over ice,
// Pa, from -100 to 200 °C. ok is false outside. Hyland and Wexler 1983 as printed
// by ASHRAE, coefficients read; it is within 300 ppm of ASHRAE's own table.
func Saturation(tC float64) (pa float64, ok bool) {
	if !(tC >= minMoistC && tC <= maxMoistC) {
		return 0, false
	}
	return saturation(tC), true
}

func saturation(tC float64) float64 {
	t := tC + zeroK
	if tC < 0 {
		return math.Exp(-5.6745359e3/t + 6.3925247 + t*(-9.677843e-3+t*(6.2215701e-7+t*(2.0747825e-9+t*-9.484024e-13))) +
			4.1635019*math.Log(t))
	}
	return math.Exp(-5.8002206e3/t + 1.3914993 + t*(-4.8640239e-2+t*(4.1764768e-5+t*-1.4452093e-8)) + 6.5459673*math.Log(t))
}

// saturationSlope is the derivative of saturation over water, Pa/K; tC >= 0.
func saturationSlope(tC float64) float64 {
	t := tC + zeroK
	return saturation(tC) * (5.8002206e3/(t*t) - 4.8640239e-2 + t*(2*4.1764768e-5-t*3*1.4452093e-8) + 6.5459673/t)
}

// saturatedAt inverts saturation, °C, between -100 and 200 °C.
func saturatedAt(pa float64) (tC float64, ok bool) {
	if !(pa >= saturation(minMoistC) && pa <= saturation(maxMoistC)) {
		return 0, false
	}
	return bisect(func(t float64) float64 { return saturation(t) - pa }, minMoistC, maxMoistC), true
}

// Air is moist air.
type Air struct {
	DryC       float64 // dry bulb, °C, -100 to 200
	Humidity   float64 // kg of water a kg of dry air
	PressurePa float64
}

// AirOfRH is air with a relative humidity, per cent of what it could hold. ok is
// false out of range, and above MaxRH, where a sensor is wrong: water boils there.
func AirOfRH(dryC, rhPct, pressurePa float64) (a Air, ok bool) {
	pws, ok := Saturation(dryC)
	pv := rhPct / 100 * pws
	if !ok || !(rhPct >= 0 && rhPct <= 100) || !(pv < pressurePa) || math.IsInf(pressurePa, 1) {
		return Air{}, false
	}
	return Air{DryC: dryC, Humidity: humidityOf(pv, pressurePa), PressurePa: pressurePa}, true
}

// humidityOf is the humidity ratio at a vapour pressure: W = 0.621945 pv/(P - pv).
func humidityOf(pv, pressurePa float64) float64 { return vapourMass * pv / (pressurePa - pv) }

// VapourPa is the pressure of the water vapour in the air, Pa.
func (a Air) VapourPa() float64 { return a.PressurePa * a.Humidity / (vapourMass + a.Humidity) }

// valid: NaN fails each comparison.
func (a Air) valid() bool {
	return a.DryC >= minMoistC && a.DryC <= maxMoistC && a.Humidity >= 0 && a.PressurePa > 0 &&
		!math.IsInf(a.Humidity, 1) && !math.IsInf(a.PressurePa, 1)
}

// RH is the relative humidity, per cent. It is over 100 for air that holds fog.
func (a Air) RH() (pct float64, ok bool) {
	if !a.valid() {
		return 0, false
	}
	return 100 * a.VapourPa() / saturation(a.DryC), true
}

// DewPoint is where the air, cooled, begins to leave water (under 0 °C, frost), °C.
// ok is false for air drier than any at -100 °C.
func (a Air) DewPoint() (tC float64, ok bool) {
	if !a.valid() {
		return 0, false
	}
	return saturatedAt(a.VapourPa())
}

// MaxRH is the highest relative humidity there is at a temperature and pressure,
// per cent. Above the boiling point it is under 100: 49.3 at 121.1 °C and sea
// level. A higher reading is a broken sensor, and those rated to 85 °C lie there.
func MaxRH(dryC, pressurePa float64) (pct float64, ok bool) {
	pws, ok := Saturation(dryC)
	if !ok || !(pressurePa > 0) {
		return 0, false
	}
	return 100 * min(1, pressurePa/pws), true
}
