package cure

import "math"

// A term is one member of the series of a cut: the centre is 1 + sum of centre
// exp(-q² tau), the mean 1 - sum of mean exp(-q² tau).
type term struct{ q, centre, mean float64 }

const (
	// negligible is the exponent at which a term no longer counts, exp(-40) = 4e-18:
	// the coefficients of round cuts grow with the index.
	negligible = 40

	// maxTerms bounds the work; it is only met for a tau under 1e-6, seconds of a cure.
	maxTerms = 2100
)

// terms returns the members that count at tau and later.
func (c Cut) terms(tau float64) []term {
	var out []term
	for n := 1; n <= maxTerms; n++ {
		t := c.term(n)
		if n > 1 && t.q*t.q*tau > negligible {
			break
		}
		out = append(out, t)
	}
	return out
}

// term returns member n, from 1.
func (c Cut) term(n int) term {
	switch c.Shape {
	case Cylinder:
		return cylinderTerm(n, c.alpha(), c.endless())
	case Sphere:
		return sphereTerm(n, c.alpha(), c.endless())
	default:
		return slabTerm(n, c.alpha(), c.endless())
	}
}

func centre(terms []term, tau float64) float64 {
	sum := 1.0
	for _, t := range terms {
		sum += t.centre * math.Exp(-t.q*t.q*tau)
	}
	return max(0, sum)
}

// alternating is +1 for even n and -1 for odd n.
func alternating(n int) float64 {
	if n%2 == 0 {
		return 1
	}
	return -1
}

// bisect returns the zero of f between low and high, where f changes sign, to the
// last digit or two. A zero on the edge of the bracket is found too.
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
