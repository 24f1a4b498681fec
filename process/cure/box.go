package cure

import "math"

// Box returns the centre and the mean of a box with constant surface on all six
// faces, after transformed time tau on half of its thickness. width and length are
// in thicknesses. The parts not reached multiply (exact for a constant surface; not
// for a limited bath, where the slab is the careful answer).
func Box(tau, width, length float64) (centre, mean float64) {
	slab := Cut{Slab, math.Inf(1)}
	centre, mean = 1, 1
	for _, side := range [...]float64{1, width, length} {
		t := tau / (side * side)
		centre *= 1 - slab.Centre(t)
		mean *= 1 - slab.Mean(t)
	}
	return 1 - centre, 1 - mean
}
