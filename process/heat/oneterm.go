package heat

import "math"

// A Shape is a body that heat enters from all sides alike.
type Shape int

// A length is the half thickness of a slab, the radius of a cylinder or sphere.
const (
	Slab Shape = iota
	Cylinder
	Sphere
)

// The range of Biot numbers, h L/k: below, a body is one temperature; above, its
// surface is that of the air.
const (
	minBiot = 1e-6
	maxBiot = 1e6
)

// A Term is one member of the series of a body: the centre's part of the whole
// difference is the sum of C exp(-Zeta² Fo), with Fo = alpha t/L².
type Term struct{ Zeta, C float64 }

// OneTerm is the first member, which is all that is left after Fo = 0.2. ok is
// false for a Biot number outside 1e-6 to 1e6.
func (s Shape) OneTerm(biot float64) (first Term, ok bool) {
	if !(biot >= minBiot && biot <= maxBiot) || s < Slab || s > Sphere {
		return Term{}, false
	}
	return s.term(1, biot), true
}

// term is member n, from 1. Roots: slab z tan z = Bi, cylinder z J1(z) = Bi J0(z),
// sphere 1 - z cot z = Bi, one between neighbouring zeros of the two sides.
// Coefficients: slab 4 sin z/(2z + sin 2z), cylinder (2/z) J1/(J0² + J1²), sphere
// 4 (sin z - z cos z)/(2z - sin 2z). Textbook (Incropera, from memory), confirmed
// by series summed independently.
func (s Shape) term(n int, biot float64) Term {
	before := float64(n-1) * math.Pi
	switch s {
	case Cylinder:
		low := 0.0
		if n > 1 {
			low = j1Zero(n - 1)
		}
		z := bisect(func(z float64) float64 { return z*math.J1(z) - biot*math.J0(z) }, low, j0Zero(n))
		j0, j1 := math.J0(z), math.J1(z)
		return Term{Zeta: z, C: 2 / z * j1 / (j0*j0 + j1*j1)}
	case Sphere:
		z := bisect(func(z float64) float64 { return (1-biot)*sinc(z) - math.Cos(z) }, before, before+math.Pi)
		return Term{Zeta: z, C: 4 * (math.Sin(z) - z*math.Cos(z)) / (2*z - math.Sin(2*z))}
	default:
		z := bisect(func(z float64) float64 { return z*math.Sin(z) - biot*math.Cos(z) }, before, before+math.Pi/2)
		return Term{Zeta: z, C: 4 * math.Sin(z) / (2*z + math.Sin(2*z))}
	}
}

func sinc(z float64) float64 {
	if z == 0 {
		return 1
	}
	return math.Sin(z) / z
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

// bisect returns the zero of f between low and high, where f changes sign, to the
// last digit or two. f is not asked for its value at high.
func bisect(f func(float64) float64, low, high float64) float64 {
	below := f(low) < 0
	for range 200 {
		mid := low + (high-low)/2
		if mid <= low || mid >= high {
			break
		}
		if f(mid) < 0 == below {
			low = mid
		} else {
			high = mid
		}
	}
	return low + (high-low)/2
}
