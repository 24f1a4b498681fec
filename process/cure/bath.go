package cure

import "math"

// SaturatedSalt is the solubility of NaCl in water at fridge temperature, kg per
// kg (26.4 % of the solution; from memory, 26.3 % seen).
const SaturatedSalt = 0.359

// DefaultPurge is the free liquid in a bag as a part of the green weight, 0.04;
// 0.02 to 0.06 occur (assumption).
const DefaultPurge = 0.04

// A Bath is what a piece lies in and how much it can take from it.
type Bath struct {
	Alpha       float64 // for Cut
	SaltKgPerKg float64 // NaCl per water at equilibrium, kg/kg; the surface when endless
	NitriteMgKg float64 // NaNO2 per water at equilibrium, ingoing, mg/kg
	TissueWater float64 // water part of the salt-free meat as it lies there, 0 to 1
}

// Bag returns the bath of a weighed dose in a bag. meatG is the green weight,
// waterFraction its water (belly 0.50, loin 0.74, ham 0.65; from memory), purgeG
// the free liquid, saltG all NaCl and nitriteMG all NaNO2 put in. The water of the
// meat must be more than the purge.
func Bag(meatG, waterFraction, purgeG, saltG, nitriteMG float64) Bath {
	water := waterFraction * meatG
	return Bath{
		Alpha:       purgeG / (water - purgeG),
		SaltKgPerKg: saltG / water,
		NitriteMgKg: nitriteMG * 1000 / water,
		TissueWater: (water - purgeG) / (meatG - purgeG),
	}
}

// Brine returns the bath of a brine made with brineWaterG of water.
func Brine(meatG, waterFraction, brineWaterG, saltG, nitriteMG float64) Bath {
	water := waterFraction * meatG
	return Bath{
		Alpha:       brineWaterG / water,
		SaltKgPerKg: saltG / (brineWaterG + water),
		NitriteMgKg: nitriteMG * 1000 / (brineWaterG + water),
		TissueWater: waterFraction,
	}
}

// SaltBox returns the bath of meat with the given water fraction under solid salt.
func SaltBox(waterFraction float64) Bath {
	return Bath{Alpha: math.Inf(1), SaltKgPerKg: SaturatedSalt, TissueWater: waterFraction}
}

// WaterPhaseSaltPct returns NaCl in the water of the meat, % of salt and water, at
// a fraction of equilibrium (Cut.Centre or Cut.Mean).
func (b Bath) WaterPhaseSaltPct(fraction float64) float64 {
	c := fraction * b.SaltKgPerKg
	return 100 * c / (1 + c)
}

// SaltPct returns NaCl in % of meat and salt, at a fraction of equilibrium.
func (b Bath) SaltPct(fraction float64) float64 {
	c := fraction * b.SaltKgPerKg * b.TissueWater
	return 100 * c / (1 + c)
}

// NitritePPM returns ingoing NaNO2, mg per kg of salt-free meat, at a fraction of
// equilibrium. Multiply with NitriteLeft for an estimate of what is still there.
func (b Bath) NitritePPM(fraction float64) float64 {
	return fraction * b.NitriteMgKg * b.TissueWater
}
