package cure

import "math"

// cylinderTerm is member n of the cylinder, Crank 1975 section 5.3. Limited bath:
// alpha q J0(q) + 2 J1(q) = 0, one root between the n-th zeros of J0 and J1.
// Endless bath: zeros of J0. From memory; confirmed as for the slab.
func cylinderTerm(n int, alpha float64, endless bool) term {
	if endless {
		b := j0Zero(n)
		return term{q: b, centre: -2 / (b * math.J1(b)), mean: 4 / (b * b)}
	}
	f := func(q float64) float64 { return alpha*q*math.J0(q) + 2*math.J1(q) }
	q := bisect(f, j0Zero(n), j1Zero(n))
	below := 4 + 4*alpha + alpha*alpha*q*q
	return term{
		q:      q,
		centre: 4 * (1 + alpha) / (below * math.J0(q)),
		mean:   4 * alpha * (1 + alpha) / below,
	}
}

// The n-th zero of J0 is up to 0.05 above (n-1/4) pi, that of J1 up to 0.1 below
// (n+1/4) pi (first terms of McMahon's expansion, from memory).
func j0Zero(n int) float64 {
	near := (float64(n) - 0.25) * math.Pi
	return bisect(math.J0, near, near+0.1)
}

func j1Zero(n int) float64 {
	near := (float64(n) + 0.25) * math.Pi
	return bisect(math.J1, near-0.2, near)
}

// sphereTerm is member n of the sphere, Crank 1975 section 6.3. Limited bath:
// tan q = 3q/(3 + alpha q²), one root in (n pi, (n+1/2) pi). Endless bath: n pi.
// From memory; confirmed as for the slab.
func sphereTerm(n int, alpha float64, endless bool) term {
	if endless {
		q := float64(n) * math.Pi
		return term{q: q, centre: 2 * alternating(n), mean: 6 / (q * q)}
	}
	f := func(q float64) float64 { return (3+alpha*q*q)*math.Sin(q) - 3*q*math.Cos(q) }
	q := bisect(f, float64(n)*math.Pi, (float64(n)+0.5)*math.Pi)
	below := 9 + 9*alpha + alpha*alpha*q*q
	return term{
		q:      q,
		centre: 6 * (1 + alpha) * q / (math.Sin(q) * below),
		mean:   6 * alpha * (1 + alpha) / below,
	}
}
