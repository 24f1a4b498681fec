package cure

import (
	"math"
	"testing"
)

// Each shape, against what other functions say of it: the middle is the centre, the
// volume's mean is the uptake, an endless bath holds its face at equilibrium, and a
// closed face in the middle has no slope.
func TestTheProfileAgreesWithCentreMeanAndFace(t *testing.T) {
	for shape, power := range map[Shape]float64{Slab: 0, Cylinder: 1, Sphere: 2} {
		for _, alpha := range []float64{0.087, 0.5, 4, math.Inf(1)} {
			for _, tau := range []float64{0.02, 0.1, 0.4, 1} {
				c := Cut{shape, alpha}
				if got, want := c.At(0, tau), c.Centre(tau); math.Abs(got-want) > 1e-9 {
					t.Errorf("shape %d alpha %g tau %g: middle %g, centre %g", shape, alpha, tau, got, want)
				}
				mean, volume := 0.0, 0.0
				const n = 2000
				for i := range n {
					xi := (float64(i) + 0.5) / n
					mean += c.At(xi, tau) * math.Pow(xi, power)
					volume += math.Pow(xi, power)
				}
				if got, want := mean/volume, c.Mean(tau); math.Abs(got-want) > 1e-4 {
					t.Errorf("shape %d alpha %g tau %g: mean of the profile %g, uptake %g", shape, alpha, tau, got, want)
				}
				if face := c.At(1, tau); math.IsInf(alpha, 1) && math.Abs(face-1) > 1e-6 {
					t.Errorf("shape %d tau %g: face in an endless bath %g", shape, tau, face)
				}
				if slope := c.At(1e-4, tau) - c.At(0, tau); math.Abs(slope) > 1e-6 {
					t.Errorf("shape %d alpha %g tau %g: slope %g in the middle", shape, alpha, tau, slope)
				}
			}
		}
	}
}
