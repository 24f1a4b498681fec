package cure

import (
	"fmt"
	"math"
)

const (
	molarSalt    = 58.443  // g/mol, NaCl
	molarSucrose = 342.30  // g/mol
	molarWater   = 18.0153 // g/mol
	kgPerMol     = molarWater / 1000

	boundPerProtein = 0.30 // water that dissolves nothing, per protein (from memory)
	nativeOsmol     = 0.45 // what the meat itself has dissolved, osmol per kg of green water (assumption)

	// ActivityError is how far the estimate for a product may be off, each way
	// (judgement). A loss of weight alone proves no water activity.
	ActivityError = 0.015
)

// Osmotic returns the osmotic coefficient of NaCl in water at 25 °C, molality 0 to
// 6 mol/kg: Pitzer and Mayorga 1973, from memory; its water activities agree with
// five printed ones to 0.003.
func Osmotic(molality float64) float64 {
	root := math.Sqrt(molality)
	return 1 - 0.3915*root/(1+1.2*root) + molality*(0.0765+0.2664*math.Exp(-2*root)) + 0.00127*molality*molality
}

// BrineActivity returns the water activity of a NaCl brine at 25 °C, 0 to 1.
func BrineActivity(molality float64) float64 {
	return math.Exp(-kgPerMol * 2 * molality * Osmotic(molality))
}

// Molality returns mol of NaCl per kg of water of a brine with wpsPct % of salt in
// salt and water, below 100.
func Molality(wpsPct float64) float64 { return 1000 * wpsPct / ((100 - wpsPct) * molarSalt) }

// WaterPhaseSaltOf is the inverse of Molality.
func WaterPhaseSaltOf(molality float64) float64 {
	salt := molality * molarSalt
	return 100 * salt / (1000 + salt)
}

// A Product is what was in a piece when it was green, and what it has lost since:
// parts of the green weight.
type Product struct {
	Water, Protein, Salt, Sucrose, Loss float64
}

// An Activity is the estimate for a product. AW is to be read with ActivityError.
type Activity struct {
	AW           float64 `json:"aw"`
	SolventWater float64 `json:"solvent_water"`   // part of the green weight
	Molality     float64 `json:"molality"`        // NaCl in it, mol/kg
	WPSPct       float64 `json:"water_phase_pct"` // NaCl, % of salt and all water
}

// Activity estimates the water activity: salt and sugar in the water that protein
// does not bind, with the native solutes of meat. Pitzer for salt, Norrish for
// sucrose, Ross for the product of them (all from memory).
func (p Product) Activity() (Activity, error) {
	for _, part := range [...]struct {
		name string
		v    float64
	}{{"water", p.Water}, {"protein", p.Protein}, {"salt", p.Salt}, {"sucrose", p.Sucrose}, {"loss", p.Loss}} {
		if !(part.v >= 0) || part.v >= 1 {
			return Activity{}, fmt.Errorf("water activity: %s is %v, want a part from 0 to below 1", part.name, part.v)
		}
	}
	left := p.Water - p.Loss
	solvent := left - boundPerProtein*p.Protein
	if !(solvent > 0) {
		return Activity{}, fmt.Errorf("water activity: no water is left that could dissolve anything: loss %.4g %% of %.4g %% water", 100*p.Loss, 100*p.Water)
	}
	a := Activity{SolventWater: solvent, Molality: 1000 * p.Salt / (molarSalt * solvent), WPSPct: WaterPhaseSalt(p.Salt, left)}
	sucrose := p.Sucrose / molarSucrose
	x := sucrose / (sucrose + solvent/molarWater)
	a.AW = BrineActivity(a.Molality) * math.Exp(-kgPerMol*nativeOsmol*p.Water/solvent) * (1 - x) * math.Exp(-6.47*x*x)
	return a, nil
}
