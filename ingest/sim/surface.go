package sim

import "math"

// surfaceFlux finds the surface temperature at which the heat that arrives equals
// the heat that is conducted in and the heat that evaporates water:
// h(Ta-Ts) + εσ(Ta⁴-Ts⁴) = w·Lv·g(Ts) + 2k/Δx·(Ts-T0).
// It returns the heat conducted in, W/m², and books the water lost in dt, s.
func (s *Slab) surfaceFlux(dt float64, around Surroundings) float64 {
	inner := 2 * conductivity / s.width
	if s.cover.Tight {
		h := around.H + radiation(around.Emissivity, around.AirC, s.face)
		through := 1 / (1/h + s.cover.Resistance)
		s.face = (through*around.AirC + inner*s.outer()) / (through + inner)
		s.heat = through * (s.face - around.AirC)
		return -s.heat
	}
	wet := s.Skin.wetness(s.lost)
	for range 4 {
		s.face -= s.imbalance(wet, inner, around)
	}
	flux, _ := drying(s.face, around.H, around.Water)
	s.lost += wet * flux * dt
	h := around.H + radiation(around.Emissivity, around.AirC, s.face)
	s.heat = h * (s.face - around.AirC)
	return inner * (s.face - s.outer())
}

func (s *Slab) outer() float64 { return s.cells[cellCount-1] }

// imbalance returns the Newton step, K, of the balance above.
func (s *Slab) imbalance(wet, inner float64, around Surroundings) float64 {
	flux, slope := drying(s.face, around.H, around.Water)
	h := around.H + radiation(around.Emissivity, around.AirC, s.face)
	f := h*(s.face-around.AirC) + wet*latent(s.face)*flux + inner*(s.face-s.outer())
	df := h + wet*latent(s.face)*slope + inner
	return f / df
}

// radiation returns the radiative heat transfer coefficient, W/m²K, between a
// surface and walls at the temperature of the air.
func radiation(emissivity, airC, surfaceC float64) float64 {
	if emissivity == 0 {
		return 0
	}
	a, s := airC+kelvin, surfaceC+kelvin
	return emissivity * stefanBoltzmann * (math.Pow(a, 2) + math.Pow(s, 2)) * (a + s)
}
