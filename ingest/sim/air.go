package sim

import "math"

// Physical constants of moist air. Sea level is assumed everywhere.
const (
	pressurePa      = 101325.0
	kelvin          = 273.15
	stefanBoltzmann = 5.670374e-8                 // W/m²K⁴
	molarRatio      = 18.01528 / 28.966           // water to dry air
	lewis           = 0.845                       // of water vapour in air
	gasConstant     = 8314.46261815324 / 18.01528 // of water vapour, J/kgK
)

// saturationPa returns the saturation pressure of water over liquid, Pa, at c,
// 0 to 200 °C, by Hyland and Wexler as printed in the ASHRAE handbook. Slightly
// below zero it is that of supercooled water, which is near enough for a fridge.
func saturationPa(c float64) float64 {
	t := c + kelvin
	return math.Exp(-5.8002206e3/t + 1.3914993 - 4.8640239e-2*t + 4.1764768e-5*t*t -
		1.4452093e-8*t*t*t + 6.5459673*math.Log(t))
}

// vapourPa returns the partial pressure of vapour, Pa, in air holding w kg of
// water per kg of dry air.
func vapourPa(w float64) float64 { return pressurePa * w / (0.621945 + w) }

// latent returns the heat of evaporation of water at c, J/kg.
func latent(c float64) float64 { return 2.501e6 - 2361*c }

// drying returns the water leaving a wet surface at surfaceC, kg/m²s, and its
// derivative with the surface temperature. Negative is dew. It is the
// Chilton-Colburn analogy with Stefan flow, from the convective h, W/m²K.
func drying(surfaceC, h, w float64) (flux, slope float64) {
	pw := min(saturationPa(surfaceC), 0.95*pressurePa) // no boiling in this world
	transfer := h / ((1006 + 1860*w) * math.Pow(lewis, 2.0/3)) * molarRatio
	flux = transfer * math.Log((pressurePa-vapourPa(w))/(pressurePa-pw))
	// Clausius-Clapeyron gives the slope; Newton's method only needs it roughly.
	t := surfaceC + kelvin
	slope = transfer * pw * latent(surfaceC) / (gasConstant * t * t) / (pressurePa - pw)
	return flux, slope
}
