package hold

import "math"

// The range in which a time constant is looked for, minutes: a slice of bacon to a
// whole ham in still air. FitMin is how much of the record to give to FitTau.
const (
	minTauMin = 5.0
	maxTauMin = 3000.0
	FitMin    = 24 * 60.0
)

// A Pair is air and product measured at the same time.
type Pair struct {
	Min            float64 // minutes from any start
	AirC, ProductC float64 // °C
}

// FitTau is the time constant, minutes, with which the product follows the air best
// in the sense of least squares, beginning at its first reading. Pairs are in order
// of time, best a day of them. ok is false with fewer than ten, when a value is no
// number or time does not go on, and when the best is at an end of 5 to 3000 min:
// then the product did not move enough to tell.
func FitTau(pairs []Pair) (tauMin float64, ok bool) {
	if len(pairs) < 10 || !inOrder(pairs) {
		return 0, false
	}
	// A coarse search first, for the sum of squares may have more than one valley.
	const steps = 60
	at := func(i float64) float64 { return minTauMin * math.Pow(maxTauMin/minTauMin, i/steps) }
	best := 0
	for i := 1; i <= steps; i++ {
		if misfit(pairs, at(float64(i))) < misfit(pairs, at(float64(best))) {
			best = i
		}
	}
	if best == 0 || best == steps {
		return 0, false
	}
	return at(lowest(func(i float64) float64 { return misfit(pairs, at(i)) }, float64(best-1), float64(best+1))), true
}

func inOrder(pairs []Pair) bool {
	for i, p := range pairs {
		if !finite(p.Min, p.AirC, p.ProductC) || i > 0 && p.Min <= pairs[i-1].Min {
			return false
		}
	}
	return true
}

// misfit is the sum of squares between the product and its estimate, K².
func misfit(pairs []Pair, tauMin float64) float64 {
	sum, t := 0.0, pairs[0].ProductC
	for i, p := range pairs[1:] {
		t = follow(t, pairs[i].AirC, p.AirC, p.Min-pairs[i].Min, tauMin)
		sum += (t - p.ProductC) * (t - p.ProductC)
	}
	return sum
}

// lowest finds the lowest point of one valley by golden section.
func lowest(f func(float64) float64, a, b float64) float64 {
	const golden = 0.6180339887498949
	for range 40 {
		left, right := b-golden*(b-a), a+golden*(b-a)
		if f(left) < f(right) {
			b = right
		} else {
			a = left
		}
	}
	return (a + b) / 2
}
