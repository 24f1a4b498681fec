package sensor

import (
	"fmt"
	"math"
)

const (
	zeroK = 273.15
	at25  = 298.15 // K, where a thermistor has its nominal resistance
)

// The temperatures an NTC is believed at, °C (proposal): below, the resistance is that
// of a broken wire, above that of a short circuit or a melted probe.
const (
	coldestNTC = -60
	hottestNTC = 300
)

// Steinhart and Hart's law: 1/T = A + B·ln R + C·(ln R)³, T in K and R in Ω
// (science table of the project, coefficients per K).
type SteinhartHart struct{ A, B, C float64 }

// Beta is the law of a thermistor known by one number, 1/T = 1/T25 + ln(R/R25)/beta.
// It is off by a kelvin far from 25 °C: three points are better. r25 from 1 Ω to
// 10 MΩ, beta from 500 to 10 000 K.
func Beta(r25, beta float64) (SteinhartHart, error) {
	if !(r25 >= 1 && r25 <= 1e7) {
		return SteinhartHart{}, fmt.Errorf("%g Ω at 25 °C is not from 1 to 10 000 000", r25)
	}
	if !(beta >= 500 && beta <= 10_000) {
		return SteinhartHart{}, fmt.Errorf("a beta of %g K is not from 500 to 10 000", beta)
	}
	return SteinhartHart{A: 1/at25 - math.Log(r25)/beta, B: 1 / beta}, nil
}

// A Point is one line of a thermistor's table.
type Point struct{ TempC, Ohm float64 }

// ThreePoints is the law through three points of the thermistor's table, which are to
// lie at least 5 K apart. The colder of two has the higher resistance.
func ThreePoints(p [3]Point) (SteinhartHart, error) {
	var l, y [3]float64
	for i, q := range p {
		if !(q.TempC >= coldestNTC && q.TempC <= hottestNTC) || !(q.Ohm > 0 && q.Ohm <= 1e9) {
			return SteinhartHart{}, fmt.Errorf("%g °C with %g Ω is no point of a thermistor", q.TempC, q.Ohm)
		}
		l[i], y[i] = math.Log(q.Ohm), 1/(q.TempC+zeroK)
		for _, o := range p[:i] {
			if math.Abs(q.TempC-o.TempC) < 5 {
				return SteinhartHart{}, fmt.Errorf("%g and %g °C lie less than 5 K apart", o.TempC, q.TempC)
			}
			if (q.TempC > o.TempC) != (q.Ohm < o.Ohm) {
				return SteinhartHart{}, fmt.Errorf("%g Ω at %g °C and %g Ω at %g °C: the colder has the higher resistance", o.Ohm, o.TempC, q.Ohm, q.TempC)
			}
		}
	}
	g2, g3 := (y[1]-y[0])/(l[1]-l[0]), (y[2]-y[0])/(l[2]-l[0])
	var s SteinhartHart
	s.C = (g3 - g2) / (l[2] - l[1]) / (l[0] + l[1] + l[2])
	s.B = g2 - s.C*(l[0]*l[0]+l[0]*l[1]+l[1]*l[1])
	s.A = y[0] - (s.B+l[0]*l[0]*s.C)*l[0]
	return s, s.Check()
}

// Check refuses coefficients that no thermistor has: its temperature falls as its
// resistance rises, and it has from 1 Ω to 10 MΩ at 25 °C.
func (s SteinhartHart) Check() error {
	if !finite(s.A) || !finite(s.B) || !finite(s.C) {
		return fmt.Errorf("the coefficients are no numbers")
	}
	most := math.Log(1e9)
	if s.B <= 0 || s.B+3*s.C*most*most <= 0 {
		return fmt.Errorf("with B %g and C %g the temperature would rise with the resistance", s.B, s.C)
	}
	if y := 1 / at25; s.inverse(1) > y || s.inverse(1e7) < y {
		return fmt.Errorf("with these coefficients no resistance from 1 Ω to 10 MΩ is 25 °C")
	}
	return nil
}

// inverse is 1/T, per K.
func (s SteinhartHart) inverse(ohm float64) float64 {
	l := math.Log(ohm)
	return s.A + (s.B+s.C*l*l)*l
}

// TempC is the temperature of a resistance, °C.
func (s SteinhartHart) TempC(ohm float64) (tC float64, why string) {
	if !(ohm > 0) {
		return none("%.6g Ω: a short circuit", ohm)
	}
	y := s.inverse(ohm)
	switch {
	case y > 1/(coldestNTC+zeroK) || math.IsNaN(y): // no number: no resistance at all
		return none("%.6g Ω is colder than %d °C: the wire or the plug is open", ohm, coldestNTC)
	case y < 1/(hottestNTC+zeroK):
		return none("%.6g Ω is hotter than %d °C: a short circuit, or water in the probe", ohm, hottestNTC)
	}
	return 1/y - zeroK, ""
}

// Ohms makes a Conversion of a sensor that sends the resistance, Ω.
func (s SteinhartHart) Ohms() Conversion {
	return func(sent, _ float64) (float64, string) { return s.TempC(sent) }
}
