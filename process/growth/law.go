package growth

import "math"

// shape is how a rate depends on temperature.
type shape int

const (
	// squareRoot: scale (T-min)² (1 - e^(c(T-max))), 0 outside min to max
	// (Ratkowsky's extended square-root form; parameters name their source).
	squareRoot shape = iota
	// openSquareRoot: scale (T-min)², without an upper end.
	openSquareRoot
	// cardinal: scale times the cardinal temperature model with inflection, 1 at
	// opt (Rosso 1993; form read).
	cardinal
)

// A law is the rate as a function of temperature alone: everything else about the
// food is a factor inside scale.
type law struct {
	shape    shape
	scale    float64 // ln units per hour, per K² for the square roots
	min, max float64 // no growth at or outside, °C; max is +Inf for openSquareRoot
	opt      float64 // cardinal only, °C
	c        float64 // squareRoot only, 1/K
	worst    float64 // where it grows fastest, or the warmest that is assumed, °C
}

// rate is the growth rate at tempC, ln units per hour. A value that is no finite
// number may be any temperature, so it grows as at the worst one.
func (l *law) rate(tempC float64) float64 {
	if math.IsNaN(tempC) || math.IsInf(tempC, 0) {
		tempC = l.worst
	}
	if tempC <= l.min || tempC >= l.max {
		return 0
	}
	d := tempC - l.min
	switch l.shape {
	case squareRoot:
		return l.scale * d * d * (1 - math.Exp(l.c*(tempC-l.max)))
	case cardinal:
		rise := l.opt - l.min
		below := rise * (rise*(tempC-l.opt) - (l.opt-l.max)*(l.opt+l.min-2*tempC))
		return l.scale * (tempC - l.max) * d * d / below
	}
	return l.scale * d * d
}

// fastest is the highest rate at any temperature between lo and hi: the laws rise
// to their worst temperature and fall after it, the open one only rises.
func (l *law) fastest(v1, v2 float64) float64 {
	lo, hi := min(v1, v2), max(v1, v2) // NaN if either is
	if math.IsNaN(lo) || math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		return l.rate(l.worst)
	}
	if l.shape == openSquareRoot {
		return l.rate(hi)
	}
	return l.rate(max(lo, min(l.worst, hi)))
}

// peak finds where a squareRoot law is fastest, by bisection on the sign of its
// slope: 2 (1 - e^x) = c (T-min) e^x with x = c (T-max).
func (l *law) peak() float64 {
	lo, hi := l.min, l.max
	for range 60 {
		mid := (lo + hi) / 2
		e := math.Exp(l.c * (mid - l.max))
		if 2*(1-e) > l.c*(mid-l.min)*e {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
