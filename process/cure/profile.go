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
