package sim

import "math"

// Thermal properties of cured belly: water 0.42, protein 0.115, fat 0.435, ash
// 0.03 by mass, Choi-Okos 1986, between 20 and 60 °C, rounded. The composition is
// invented; real bellies differ by more than the rounding.
const (
	density      = 1000.0 // kg/m³
	specificHeat = 2900.0 // J/kgK
	conductivity = 0.365  // W/mK
	diffusivity  = conductivity / (density * specificHeat)
)

// Surroundings is the air a slab lies in.
type Surroundings struct {
	AirC       float64 // °C
	H          float64 // heat transfer at the surface, W/m²K
	Emissivity float64 // of the walls around, which are at AirC; 0 when H has the radiation in it
	Water      float64 // kg of water per kg of dry air
}

// A Cover is what lies between a slab and the air.
type Cover struct {
	Resistance float64 // m²K/W
	Tight      bool    // no water leaves
}

// The covers of the trade. The resistance of the bag is chosen so that a 38 mm
// slab in a fridge follows the air with a time constant of 2.5 h; the cloth is
// invented.
var (
	bagged = Cover{Resistance: 0.02, Tight: true}
	racked = Cover{}
	cloth  = Cover{Resistance: 0.04, Tight: true}
)

// Bagged and Racked are the covers of a slab in its bag and on a rack.
func Bagged() Cover { return bagged }

// Racked: see Bagged.
func Racked() Cover { return racked }

// A Skin is the drying law of a slab's surface. The wet fraction of the surface
// is Wet at first and falls to Dry around the loss at Turn:
// w(m) = Dry + (Wet-Dry)/(1 + exp((m-Turn)/Width)).
// That is constant-rate, then falling-rate drying; while it is constant, the meat
// stalls. Width zero keeps the surface at Wet for ever. The numbers of the demo are
// invented.
type Skin struct {
	Wet, Dry    float64 // 0 to 1
	Turn, Width float64 // water lost through a face, kg/m²
}

func (k Skin) wetness(lost float64) float64 {
	if k.Width <= 0 {
		return k.Wet
	}
	return k.Dry + (k.Wet-k.Dry)/(1+math.Exp((lost-k.Turn)/k.Width))
}

// cellCount is the number of cells in half a slab. With eight the core is within
// 1 % of the series solution, which a test holds.
const cellCount = 8

// A Slab is a flat piece of meat, heated and cooled from both faces alike, so that
// one half of it is enough. It conducts in one dimension.
type Slab struct {
	Name  string
	Skin  Skin
	AreaM float64 // both faces, m²

	cells [cellCount]float64 // °C, from the middle out
	width float64            // of a cell, m
	lost  float64            // water lost through each face, kg/m²
	heat  float64            // given to the air, W/m², last step
	face  float64            // surface temperature, °C, last step

	place Place
	cover Cover
}

// NewSlab returns a slab of thickness mm, > 0, and weight g, all at startC.
func NewSlab(name string, mm, grams, startC float64, skin Skin) *Slab {
	s := &Slab{Name: name, Skin: skin, width: mm / 2000 / cellCount, face: startC}
	s.AreaM = 2 * grams / 1000 / density / (mm / 1000)
	for i := range s.cells {
		s.cells[i] = startC
	}
	return s
}

// Move puts the slab into a place under a cover.
func (s *Slab) Move(to Place, under Cover) { s.place, s.cover = to, under }

// Core returns the temperature in the middle, °C: the top of the parabola through
// the two innermost cells and their mirror images.
func (s *Slab) Core() float64 { return s.cells[0] + (s.cells[0]-s.cells[1])/8 }

// Surface returns the temperature of the face, °C.
func (s *Slab) Surface() float64 { return s.face }

// Mean returns the mean temperature, °C.
func (s *Slab) Mean() float64 {
	sum := 0.0
	for _, c := range s.cells {
		sum += c
	}
	return sum / cellCount
}

// Lost returns the water lost so far, kg.
func (s *Slab) Lost() float64 { return s.lost * s.AreaM }

// step advances the slab by dt, s, in pieces short enough for the explicit scheme:
// the outermost cell is stable while three times its Fourier number is below 1.
func (s *Slab) step(dt float64, around Surroundings) {
	pieces := math.Ceil(dt * diffusivity / (s.width * s.width) / 0.25)
	for range int(pieces) {
		s.conduct(dt/pieces, around)
	}
}

func (s *Slab) conduct(dt float64, around Surroundings) {
	inflow := s.surfaceFlux(dt, around) // W/m², into the outermost cell
	k := conductivity / s.width
	perCell := dt / (density * specificHeat * s.width)
	for i := cellCount - 1; i >= 0; i-- {
		outflow := 0.0 // towards the middle; none through the mirror plane
		if i > 0 {
			outflow = k * (s.cells[i] - s.cells[i-1])
		}
		s.cells[i] += (inflow - outflow) * perCell
		inflow = outflow
	}
}
