package hold

// maxBrinePct is as far as the law of brine was fitted: 23 % freezes last of all.
const maxBrinePct = 23.0

// Brine is the salt in the water of meat, per cent of both, from fractions of the
// mass. ok is false for fractions that are negative, over 1 together, or no water.
func Brine(water, salt float64) (pct float64, ok bool) {
	if !(water > 0) || !(salt >= 0) || !(water+salt <= 1) {
		return 0, false
	}
	return 100 * salt / (salt + water), true
}

// BrineFall is by how much salt lowers the freezing point of water, K, as a number
// under 0; brine in per cent, 0 to 23. ok is false outside. A cubic fitted to the
// points of the CRC Handbook, which it meets within 0.052 K.
func BrineFall(pct float64) (fallK float64, ok bool) {
	if !(pct >= 0 && pct <= maxBrinePct) {
		return 0, false
	}
	return pct * (-0.592418 + pct*(-7.83567e-4-pct*5.45964e-4)), true
}

// PlainFreezing is where meat without salt begins to freeze, °C, by its fraction of
// water: -1.97 + 1.47 x, read in the literature. Handbooks say about -2 for pork and
// beef, which is lower: take this as the warmer, stricter figure.
func PlainFreezing(water float64) (tC float64, ok bool) {
	if !(water > 0 && water <= 1) {
		return 0, false
	}
	return -1.97 + 1.47*water, true
}

// Freezing is where cured meat begins to freeze, °C, by its fractions of water and
// salt: that of the meat and the fall by its brine, two laws found apart and added;
// known to about 0.5 K (choice of this project).
func Freezing(water, salt float64) (tC float64, ok bool) {
	plain, ok1 := PlainFreezing(water)
	brine, ok2 := Brine(water, salt)
	fall, ok3 := BrineFall(brine)
	if !ok1 || !ok2 || !ok3 {
		return 0, false
	}
	return plain + fall, true
}
