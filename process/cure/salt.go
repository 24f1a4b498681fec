package cure

// Molar masses, g/mol (IUPAC weights).
const (
	molarNitrite       = 46.0055 // NO2-
	molarSodiumNitrite = 68.9953 // NaNO2
	molarNitrate       = 62.0049 // NO3-
	molarSodiumNitrate = 84.9947 // NaNO3
)

// CommonSalt returns the NaCl to weigh besides the curing salt, so that both give
// target (a part, 0.025 is 2.5 %) of basis: the green weight, or meat and water of
// a brine. It is negative when the curing salt alone brings more.
func CommonSalt(target, basis, cure float64, mix CuringSalt) float64 {
	return target*basis - mix.Salt*cure
}

// NitriteIon converts NaNO2 to nitrite ion, in which limits of the European Union
// are counted since 9 October 2025 (Regulation (EU) 2023/2108, read in part).
func NitriteIon(sodiumNitrite float64) float64 {
	return sodiumNitrite * molarNitrite / molarSodiumNitrite
}

// SodiumNitrite converts nitrite ion to NaNO2.
func SodiumNitrite(ion float64) float64 { return ion * molarSodiumNitrite / molarNitrite }

// NitrateIon converts NaNO3 to nitrate ion.
func NitrateIon(sodiumNitrate float64) float64 {
	return sodiumNitrate * molarNitrate / molarSodiumNitrate
}

// WaterPhaseSalt returns NaCl in % of salt and water, 100 S/(S+W), both in one
// unit and not both 0.
func WaterPhaseSalt(salt, water float64) float64 { return 100 * salt / (salt + water) }

// SaltForWaterPhase returns the NaCl, in the unit of water, that gives pct, below
// 100, in the water phase.
func SaltForWaterPhase(pct, water float64) float64 { return pct * water / (100 - pct) }
