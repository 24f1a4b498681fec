package heat

import "math"

// seriesTerms members are enough for any Fo at which the centre has felt anything:
// at earliestFo the last is under exp(-40), and before it the centre has moved by
// less than exp(-1/(4 Fo)), 1e-27 of the difference.
const (
	seriesTerms = 33
	earliestFo  = 0.004
)

// A Series is the exact warming or cooling of the centre of a body in air of
// constant temperature.
type Series struct {
	Shape Shape
	Biot  float64
	terms [seriesTerms]Term
}

// NewSeries computes the members. ok is false for a Biot number outside 1e-6 to 1e6.
func NewSeries(shape Shape, biot float64) (s Series, ok bool) {
	if _, ok := shape.OneTerm(biot); !ok {
		return Series{}, false
	}
	s = Series{Shape: shape, Biot: biot}
	for i := range s.terms {
		s.terms[i] = shape.term(i+1, biot)
	}
	return s, true
}

// First is the one-term approximation of the series.
func (s *Series) First() Term { return s.terms[0] }

// Centre is the part of the difference between centre and air that is left at
// Fo = alpha t/L²: 1 at the start, 0 in the end.
func (s *Series) Centre(fo float64) float64 {
	if fo < earliestFo {
		return 1
	}
	return s.sum(fo, func(Term) float64 { return 1 })
}

// rate is how fast the part falls, per Fo, and bend how fast that grows.
func (s *Series) rate(fo float64) float64 {
	return s.sum(fo, func(t Term) float64 { return t.Zeta * t.Zeta })
}

func (s *Series) bend(fo float64) float64 {
	return -s.sum(fo, func(t Term) float64 { return t.Zeta * t.Zeta * t.Zeta * t.Zeta })
}

func (s *Series) sum(fo float64, weight func(Term) float64) float64 {
	sum := 0.0
	for _, t := range s.terms {
		sum += weight(t) * t.C * math.Exp(-t.Zeta*t.Zeta*fo)
	}
	return sum
}

// Fo is when a part of the difference is left, 0 < part < 1. ok is false outside.
func (s *Series) Fo(part float64) (fo float64, ok bool) {
	if !(part > 0 && part < 1) {
		return 0, false
	}
	late := max(1, s.First().Fo(part)+1)
	return bisect(func(fo float64) float64 { return s.Centre(fo) - part }, 0, late), true
}

// Centre is the one-term part; it is over 1 at first.
func (t Term) Centre(fo float64) float64 { return t.C * math.Exp(-t.Zeta*t.Zeta*fo) }

// Fo inverts Centre: ln(C/part)/zeta². It is right from about Fo = 0.2 on.
func (t Term) Fo(part float64) float64 { return math.Log(t.C/part) / (t.Zeta * t.Zeta) }

// A Body is a piece of meat in moving air.
type Body struct {
	Shape       Shape
	LengthM     float64 // half thickness of a slab, radius of others, m
	H           float64 // coefficient of heat transfer, W/(m² K); 5 to 20 in a chiller
	K           float64 // conductivity, W/(m K)
	Diffusivity float64 // m²/s
}

// Biot is h L/k, without unit.
func (b Body) Biot() float64 { return b.H * b.LengthM / b.K }

// scaleH is L²/alpha in hours: the time of Fo = 1.
func (b Body) scaleH() float64 { return b.LengthM * b.LengthM / b.Diffusivity / 3600 }

func (b Body) valid() bool {
	return b.LengthM > 0 && b.H > 0 && b.K > 0 && b.Diffusivity > 0 && !math.IsInf(b.scaleH(), 1)
}

// Hours is when a part of the first difference between centre and air is left,
// exactly. ok is false for a part outside 0 to 1 and a body out of range.
func (b Body) Hours(part float64) (hours float64, ok bool) {
	s, ok := NewSeries(b.Shape, b.Biot())
	if !ok || !b.valid() {
		return 0, false
	}
	fo, ok := s.Fo(part)
	return fo * b.scaleH(), ok
}

// HoursOneTerm is Hours by the first term alone, for hand checks. It is 0 when the
// term says the time has passed before the start.
func (b Body) HoursOneTerm(part float64) (hours float64, ok bool) {
	first, ok := b.Shape.OneTerm(b.Biot())
	if !ok || !b.valid() || !(part > 0 && part < 1) {
		return 0, false
	}
	return max(0, first.Fo(part)) * b.scaleH(), true
}

// TauH is the time constant of the body once it cools steadily, hours:
// L²/(alpha zeta²).
func (b Body) TauH() (hours float64, ok bool) {
	first, ok := b.Shape.OneTerm(b.Biot())
	if !ok || !b.valid() {
		return 0, false
	}
	return b.scaleH() / (first.Zeta * first.Zeta), true
}

// ResponseH is the time constant of the body by the resistance outside and inside,
// hours, in a form to check by hand: (L²/alpha)(1/Bi + 1/3) for a slab, (1/(2 Bi) +
// 1/8) for a cylinder, (1/(3 Bi) + 1/15) for a sphere. Within 1.5 % of TauH up to a
// Biot number of 1.
func (b Body) ResponseH() (hours float64, ok bool) {
	if _, ok := b.Shape.OneTerm(b.Biot()); !ok || !b.valid() {
		return 0, false
	}
	part, inside := 1.0, 1.0/3
	switch b.Shape {
	case Cylinder:
		part, inside = 2, 1.0/8
	case Sphere:
		part, inside = 3, 1.0/15
	}
	return b.scaleH() * (1/(part*b.Biot()) + inside), true
}
