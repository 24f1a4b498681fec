package cure

import "math"

// A Rested slab was salted with solid salt, rubbed off, and left with no salt
// coming or going. Concentrations are over that of saturated brine.
type Rested struct {
	Mean, Centre, Surface float64
}

// Evenness is the centre over the mean; 0.90 is taken as even (assumption).
func (r Rested) Evenness() float64 { return r.Centre / r.Mean }

// Rest returns a slab after transformed time tauSalting, above 0, under salt and
// tauRest sealed: cosine series of the profile that the salting left. Confirmed by
// finite volumes to 5e-5.
func Rest(tauSalting, tauRest float64) Rested {
	salted := Cut{Slab, math.Inf(1)}
	r := Rested{Mean: salted.Mean(tauSalting)}
	r.Centre, r.Surface = r.Mean, r.Mean
	terms := salted.terms(tauSalting)
	for n := 1; n <= maxTerms; n++ {
		lam := float64(n) * math.Pi
		if n > 1 && lam*lam*tauRest > negligible {
			break
		}
		a := restCoefficient(n, terms, tauSalting) * math.Exp(-lam*lam*tauRest)
		r.Centre += a
		r.Surface += a * alternating(n)
	}
	return r
}

// restCoefficient is the n-th cosine coefficient of the profile 1 - sum of
// b cos(lam xi): b is minus the centre coefficient of the salting, decayed.
func restCoefficient(n int, salting []term, tau float64) float64 {
	lam, sum := float64(n)*math.Pi, 0.0
	for i, t := range salting {
		b := -t.centre * math.Exp(-t.q*t.q*tau)
		sum += alternating(i) * b * t.q / (t.q*t.q - lam*lam)
	}
	return -2 * alternating(n) * sum
}
