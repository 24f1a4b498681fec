package cure

import "math"

// Shape is the form of a piece as diffusion sees it.
type Shape uint8

// The shapes. A slab is thin against its width; a round cut (loin, netted ham)
// is a cylinder when long and a sphere when not.
const (
	Slab Shape = iota
	Cylinder
	Sphere
)

// Path returns the length, metres, that tau is counted with, of a piece thicknessM
// metres thick at its thickest place (a round cut: its diameter). It is half of
// that, and the whole for a slab with the skin on, because skin and the fat under
// it are a sealed face (two to three orders slower than flesh; seen, fish).
func Path(shape Shape, thicknessM float64, skinOn bool) float64 {
	if shape == Slab && skinOn {
		return thicknessM
	}
	return thicknessM / 2
}

// A Cut is a piece in its bath. Alpha is the water of the free liquid over the
// water in the meat, at least 0: 0 when the whole dose is taken up at once, the
// value of Bath.Alpha in a bag or brine, math.Inf(1) when the surface stays as it
// is (very large brine; rub while solid salt is left).
type Cut struct {
	Shape Shape
	Alpha float64
}

// Beyond these Alpha is taken as 0 and as infinite; the centre is then wrong by
// about 1.2 Alpha and 1/Alpha.
const (
	noBath      = 1e-4
	endlessBath = 1e4
)

func (c Cut) endless() bool { return c.Alpha > endlessBath }

func (c Cut) alpha() float64 {
	if c.Alpha < noBath {
		return 0
	}
	return c.Alpha
}

// Centre returns the concentration at the deepest point over that at equilibrium,
// 0 to 1, after transformed time tau. An endless bath has the concentration of its
// surface at equilibrium.
func (c Cut) Centre(tau float64) float64 {
	if !(tau >= earlyCentre) {
		return 0
	}
	return centre(c.terms(tau), tau)
}

// Mean returns the mean concentration over that at equilibrium, 0 to 1: the part
// of what the piece will ever take up that it has taken up.
func (c Cut) Mean(tau float64) float64 {
	switch {
	case !(tau > 0):
		return 0
	case !c.endless() && c.alpha() == 0:
		return 1
	case tau < c.early():
		return c.earlyMean(tau)
	}
	left := 0.0
	for _, t := range c.terms(tau) {
		left += t.mean * math.Exp(-t.q*t.q*tau)
	}
	return 1 - left
}

// TauFor returns the transformed time at which Centre reaches the fraction. It is
// 0 for a fraction not above 0 and infinite for one not below 1.
func (c Cut) TauFor(fraction float64) float64 {
	if !(fraction > 0) {
		return 0
	}
	if fraction >= 1 {
		return math.Inf(1)
	}
	terms := c.terms(earlyCentre)
	low, high := earlyCentre, 1.0
	for centre(terms, high) < fraction {
		low, high = high, 2*high
	}
	return bisect(func(tau float64) float64 { return centre(terms, tau) - fraction }, low, high)
}

// A Dose is a part of the salt, put on at a transformed time.
type Dose struct {
	Tau   float64 // when
	Share float64 // of the whole dose; all shares add up to 1
}

// CentreOf is Centre for a dose put on in parts. The equations are linear, so the
// responses add up.
func (c Cut) CentreOf(doses []Dose, tau float64) float64 {
	sum := 0.0
	for _, d := range doses {
		sum += d.Share * c.Centre(tau-d.Tau)
	}
	return sum
}

// MeanOf is Mean for a dose put on in parts.
func (c Cut) MeanOf(doses []Dose, tau float64) float64 {
	sum := 0.0
	for _, d := range doses {
		sum += d.Share * c.Mean(tau-d.Tau)
	}
	return sum
}
