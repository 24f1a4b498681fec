package cure

import "math"

// earlyCentre is the tau under which nothing has reached the deepest point:
// erfc(1/(2 sqrt tau)) is 1e-54 there.
const earlyCentre = 0.002

// early is the tau under which Mean is taken from the solution for a thick piece,
// which then is exact to 1e-9 for a slab; for round cuts to about the square root
// of tau.
func (c Cut) early() float64 {
	switch {
	case c.Shape != Slab:
		return 1e-6
	case c.endless():
		return 0.01
	default:
		return 0.005
	}
}

// earlyMean is the uptake while the salt has not met itself in the middle: with
// g the surface over the volume in paths, 2 g sqrt(tau/pi) for an endless bath and
// (1+alpha) (1 - exp(z²) erfc z), z = g sqrt(tau)/alpha, for a limited one (Crank
// 1975, from memory).
func (c Cut) earlyMean(tau float64) float64 {
	g := 1 + float64(c.Shape) // slab 1, cylinder 2, sphere 3
	if c.endless() {
		return 2 * g * math.Sqrt(tau/math.Pi)
	}
	return (1 + c.alpha()) * (1 - scaledErfc(g*math.Sqrt(tau)/c.alpha()))
}

// scaledErfc is exp(z²) erfc(z) for z >= 0. From 5 on the two factors leave the
// range of floating point, and the continued fraction (from memory) converges
// fast.
func scaledErfc(z float64) float64 {
	if z < 5 {
		return math.Exp(z*z) * math.Erfc(z)
	}
	f := z
	for k := 40; k >= 1; k-- {
		f = z + float64(k)/2/f
	}
	return 1 / (math.SqrtPi * f)
}
