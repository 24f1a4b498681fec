package cure

import "math"

// At returns the concentration over that at equilibrium inside the piece, at xi of the
// path from the deepest point (0) to the wetted face (1), after transformed time tau.
// Near the face of a bag it is above 1 at first. For a tau under 1e-6, seconds of a cure,
// it is that of 1e-6. The series are those of Centre (Crank 1975, sections 4.3, 5.3, 6.3)
// with the eigenfunction of the shape.
func (c Cut) At(xi, tau float64) float64 {
	tau = max(tau, 1e-6)
	sum := 1.0
	for _, t := range c.terms(tau) {
		sum += t.centre * c.Shape.mode(t.q*xi) * math.Exp(-t.q*t.q*tau)
	}
	return max(0, sum)
}

// Across is the profile after transformed time tau in even steps from one face to the
// other: what is likely, and the least and most of it in the 80 % interval of the
// diffusivity. With sealed the first face is closed, and the deepest point lies there.
func (c Cut) Across(tau float64, sealed bool, points int) (mid, low, high []float64) {
	for i := range points {
		xi := float64(i) / float64(points-1)
		if !sealed {
			xi = max(2*xi-1, 1-2*xi) // from the middle to either face
		}
		likely, a, b := c.At(xi, tau), c.At(xi, tau/SpreadD), c.At(xi, tau*SpreadD)
		mid = append(mid, likely)
		low, high = append(low, min(likely, a, b)), append(high, max(likely, a, b))
	}
	return mid, low, high
}

// mode is the eigenfunction of a shape, 1 at the deepest point.
func (s Shape) mode(x float64) float64 {
	switch s {
	case Cylinder:
		return math.J0(x)
	case Sphere:
		if x == 0 {
			return 1
		}
		return math.Sin(x) / x
	default:
		return math.Cos(x)
	}
}
