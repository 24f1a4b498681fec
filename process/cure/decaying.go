package cure

import "math"

// A Decaying is nitrite that moves into a slab from a limited bath and is lost in
// the meat only, not in the bath. NitriteLeft takes the loss as even everywhere,
// which is low at the centre: by 1 to 8 % in a bag, by more in a brine.
type Decaying struct {
	Alpha float64 // bath, as for Cut; above 0 and finite
	Kappa float64 // decay rate times path squared over diffusivity, > 0
}

// Profile returns the ingoing concentration left at the centre and on average, over
// that at equilibrium without loss, after transformed time tau.
//
// Laplace inversion of c_tau = c_xixi - kappa c with alpha B_tau = -c_xi at the
// face: the poles are p² - kappa for the real p of p tanh p = alpha (kappa - p²),
// and -q² - kappa for the roots of q sin q + alpha (q² + kappa) cos q = 0, one in
// each ((n-1/2) pi, n pi). Derived here; finite volumes agree to 1e-4. Without
// loss it is the slab of Crank 4.3.5.
func (d Decaying) Profile(tau float64) (centre, mean float64) {
	if !(tau >= earlyCentre) {
		return 0, 0
	}
	p := d.realRoot()
	slow := (1 + d.Alpha) * math.Exp((p*p-d.Kappa)*tau) / d.slopeReal(p)
	centre, mean = slow, slow*sinhc(p)
	for n := 1; n <= maxTerms; n++ {
		q := d.root(n)
		if n > 1 && q*q*tau > negligible {
			break
		}
		part := (1 + d.Alpha) * math.Exp(-(q*q+d.Kappa)*tau) / d.slope(q)
		centre += part
		mean += part * math.Sin(q) / q
	}
	return max(0, centre), max(0, mean)
}

func (d Decaying) realRoot() float64 {
	f := func(p float64) float64 { return p*math.Tanh(p) - d.Alpha*(d.Kappa-p*p) }
	return bisect(f, 0, math.Sqrt(d.Kappa))
}

func (d Decaying) root(n int) float64 {
	f := func(q float64) float64 { return q*math.Sin(q) + d.Alpha*(q*q+d.Kappa)*math.Cos(q) }
	return bisect(f, (float64(n)-0.5)*math.Pi, float64(n)*math.Pi)
}

// slopeReal and slope are the derivative of alpha s cosh p + p sinh p by s at a
// pole, where s = p² - kappa, and at p = iq.
func (d Decaying) slopeReal(p float64) float64 {
	s := p*p - d.Kappa
	return d.Alpha*math.Cosh(p) + ((d.Alpha*s+1)*sinhc(p)+math.Cosh(p))/2
}

func (d Decaying) slope(q float64) float64 {
	s := -q*q - d.Kappa
	return d.Alpha*math.Cos(q) + ((d.Alpha*s+1)*math.Sin(q)/q+math.Cos(q))/2
}

// sinhc is sinh(p)/p, 1 at 0.
func sinhc(p float64) float64 {
	if p < 1e-6 {
		return 1
	}
	return math.Sinh(p) / p
}
