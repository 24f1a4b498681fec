package cure

import "math"

// slabTerm is member n of the slab. Endless bath: Crank 1975 p. 47-48. Limited
// bath: Crank 4.3.5, q the root of tan q = -alpha q in ((n-1/2) pi, n pi). From
// memory; confirmed by Laplace inversion and finite volumes.
func slabTerm(n int, alpha float64, endless bool) term {
	if endless {
		odd := float64(2*n - 1)
		return term{
			q:      odd * math.Pi / 2,
			centre: alternating(n) * 4 / (math.Pi * odd),
			mean:   8 / (math.Pi * math.Pi * odd * odd),
		}
	}
	q := slabRoot(n, alpha)
	below := 1 + alpha + alpha*alpha*q*q
	return term{
		q:      q,
		centre: 2 * (1 + alpha) / (below * math.Cos(q)),
		mean:   2 * alpha * (1 + alpha) / below,
	}
}

// slabRoot solves tan q = -alpha q in the form sin q + alpha q cos q = 0, which
// has no pole at the edge of the bracket.
func slabRoot(n int, alpha float64) float64 {
	f := func(q float64) float64 { return math.Sin(q) + alpha*q*math.Cos(q) }
	return bisect(f, (float64(n)-0.5)*math.Pi, float64(n)*math.Pi)
}

// SlabAt is Cut.At of a slab with the alpha of Cut.
func SlabAt(alpha, xi, tau float64) float64 { return Cut{Slab, alpha}.At(xi, tau) }
