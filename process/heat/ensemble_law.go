package heat

import "math"

// How far a piece may be from what was measured. All three were picked for synthetic
// meat that obeys the same laws of drying and conduction: real meat may need others.
const (
	coreSdK = 1.0 // K, of the core of a piece about the meat's
	slopeSd = 1.5 // K/h, and a tenth of the slope
	memoryH = 2.0 // a comparison counts e times less after so long
)

// A law is what all pieces have in common: the air of the chamber, and how they dry.
type law struct {
	humidity float64 // of the chamber, kg a kg
	over     *dryness
	falling  *falling
}

func newLaw(humidity float64) law {
	return law{humidity: humidity, over: newDryness(), falling: newFalling()}
}

// in is the air at a temperature, °C.
func (l *law) in(airC float64) surrounding { return l.over.around(airC, l.humidity) }

// levelOf counts the degrees from -10 °C: a level each, from 0 to the last, 120 °C.
func levelOf(tC float64) float64 { return tC + 10 }

// celsiusOf is the temperature of a level, °C.
func celsiusOf(level float64) float64 { return level - 10 }

// newPiece makes the nth piece, from 1.
func newPiece(n int) piece {
	return piece{
		perHour: between(0.04, 0.6, halton(n, 2)),
		biot:    between(0.4, 4, halton(n, 3)),
		wet0:    wetAtFirst(n),
		dryLoss: 0.03 + 0.32*halton(n, 7),
		wetLast: between(0.004, 0.06, halton(n, 11)),
	}
}

// between is log-uniform.
func between(low, high, u float64) float64 { return low * math.Pow(high/low, u) }

// halton is the nth number, from 1, of the sequence to a base (textbook).
func halton(n, base int) float64 {
	part, sum := 1.0, 0.0
	for n > 0 {
		part /= float64(base)
		sum += part * float64(n%base)
		n /= base
	}
	return sum
}

// wetAtFirst is the wet part of the surface of the nth piece of a cook. Every seventh
// is dry from the start, as meat is in a wrap or a casing or under its rind; 7, for the
// other numbers of a piece must not go with it.
func wetAtFirst(n int) float64 {
	if n%7 == 0 {
		return 0
	}
	return between(0.01, 0.8, halton(n, 5))
}
