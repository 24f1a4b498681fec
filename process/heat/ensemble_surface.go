package heat

import "math"

// The surface of a piece lies between these, °C: the table ends there.
const (
	coolestC = 0.0
	hottestC = 99.5
)

// A dryness is a table, each tenth of a degree from 0 °C, of the logarithm of the
// pressure of dry air over a wet surface, Pa. Straight lines between are within
// 0.001 of it; the logarithms themselves would take most of the time of a forecast.
type dryness [996 + 1]float64

func newDryness() *dryness {
	d := new(dryness)
	for i := range d {
		d[i] = math.Log(SeaLevelPa - saturation(float64(i)/10))
	}
	return d
}

// at returns the value and its slope, 1/K, from coolestC to hottestC.
func (d *dryness) at(tC float64) (value, slope float64) {
	i := int(10 * tC)
	slope = d[i+1] - d[i]
	return d[i] + slope*(10*tC-float64(i)), 10 * slope
}

// A surrounding is the air around the pieces: what their surfaces need of it.
type surrounding struct {
	airC     float64
	factor   float64 // of the flow of water over the coefficient of convection, kg K/J
	pressure float64 // logarithm of the pressure of dry air in it, Pa
	over     *dryness
}

// around is air of a temperature, °C, and a humidity, kg a kg.
func (d *dryness) around(airC, humidity float64) surrounding {
	vapour := SeaLevelPa * humidity / (vapourMass + humidity)
	capacity := airCapacity + vapourCapacity*humidity
	return surrounding{
		airC:     airC,
		factor:   waterOverAir / (capacity * math.Pow(lewis, 2.0/3)),
		pressure: math.Log(SeaLevelPa - vapour),
		over:     d,
	}
}

// surface is the temperature at which the heat that comes evaporates water and goes
// inside, and the flow of water over the coefficient of convection at a wet surface.
// Newton from where it was; the balance bends one way only, so two to four steps do.
func (p *piece) surface(in *surrounding) (tC, water float64) {
	const inward = 2 * cells // to the middle of the outer cell
	last := p.tempC[cells-1]
	t := p.surfaceC
	for range 4 {
		t = min(hottestC, max(coolestC, t))
		dry, slope := in.over.at(t)
		latent := latentAtZero - latentFall*t
		water = in.factor * (in.pressure - dry)
		f := p.biot*(in.airC-t-p.wet*latent*water) - inward*(t-last)
		df := -p.biot*(1-p.wet*(latent*in.factor*slope+latentFall*water)) - inward
		step := f / df
		t -= step
		if math.Abs(step) < 1e-3 {
			break
		}
	}
	return t, water
}
