package growth

import (
	"fmt"
	"math"
)

// Conditions are what is known of the food besides its temperature. The zero value
// knows nothing, which is the fastest growth a model can give: an unknown never
// helps. Each model reads the fields it has a term for and ignores the others.
type Conditions struct {
	SaltPct     float64 // salt in the water phase, % w/v; used for water activity when Aw is not given
	Aw          float64 // water activity, above 0 to 1; 0 is not known
	PH          float64 // 0 is not known
	NitritePPM  float64 // residual nitrite, not ingoing
	PhenolPPM   float64 // smoke phenols
	CO2PPM      float64 // dissolved
	LacticMM    float64 // undissociated lactic acid, mmol/l
	DiacetateMM float64 // undissociated diacetate, mmol/l
	AceticMM    float64 // undissociated acetic acid, mmol/l
}

// WaterActivity returns the water activity that salt in the water phase (% w/v,
// 0 to 25) gives: 1 - N (5.2471 + 0.12206 N)/1000, as Le Marc et al. 2008 use it
// (read in a transcription).
func WaterActivity(saltPct float64) float64 {
	return 1 - saltPct*(5.2471+0.12206*saltPct)/1000
}

func (c Conditions) aw() float64 {
	if c.Aw > 0 {
		return c.Aw
	}
	return WaterActivity(c.SaltPct)
}

// check names the first field that cannot be.
func (c Conditions) check() error {
	for _, f := range []struct {
		name string
		v    float64
		most float64
		want string
	}{
		{"salt in the water phase", c.SaltPct, 26.4, "0 to 26.4 %"}, // 26.4 %: saturated brine
		{"water activity", c.Aw, 1, "0 (not known) to 1"},
		{"pH", c.PH, 14, "0 (not known) to 14"},
		{"residual nitrite", c.NitritePPM, 1e6, "ppm"},
		{"smoke phenols", c.PhenolPPM, 1e6, "ppm"},
		{"dissolved carbon dioxide", c.CO2PPM, 1e6, "ppm"},
		{"lactic acid", c.LacticMM, 1e6, "mmol/l undissociated"},
		{"diacetate", c.DiacetateMM, 1e6, "mmol/l undissociated"},
		{"acetic acid", c.AceticMM, 1e6, "mmol/l undissociated"},
	} {
		if !(f.v >= 0 && f.v <= f.most) {
			return fmt.Errorf("growth: %s is %v, want %s", f.name, f.v, f.want)
		}
	}
	return nil
}

// Growth of C. perfringens by Le Marc stops at this water activity and pH, and no
// longer rises above the plateau (the plateau from memory).
const (
	leMarcAw, leMarcPH, leMarcPlateauPH = 0.9755, 4.76, 6.25
)

func leMarcFactor(c Conditions) float64 {
	aw, ph := c.aw(), c.PH
	if ph == 0 || ph > leMarcPlateauPH {
		ph = leMarcPlateauPH
	}
	if aw <= leMarcAw || ph <= leMarcPH {
		return 0
	}
	return (aw - leMarcAw) * (2 - aw - leMarcAw) * (ph - leMarcPH)
}

// aureusFactor is the square term in water activity, a simplification of this
// project's; above 0.994 it does not rise.
func aureusFactor(c Conditions) float64 {
	f := (min(c.aw(), 0.994) - 0.808) / (0.994 - 0.808)
	if f <= 0 {
		return 0
	}
	return f * f
}

// listeriaFactor is the product of the published terms; one that falls to zero
// stops growth. The published interaction factor is left out, which predicts more
// growth.
func listeriaFactor(c Conditions) float64 {
	ph := 1.0
	if c.PH > 0 {
		ph = 1 - math.Pow(10, 4.97-c.PH)
	}
	nitrite := max(0, 1-c.NitritePPM/350)
	product := 1.0
	for _, term := range [...]float64{
		(c.aw() - 0.923) / 0.077, ph, 1 - c.LacticMM/3.79, 1 - c.PhenolPPM/32, nitrite * nitrite,
		1 - c.CO2PPM/3140, 1 - math.Sqrt(c.DiacetateMM/4.8), 1 - math.Sqrt(c.AceticMM/10.3),
	} {
		product *= max(0, term)
	}
	return product
}
