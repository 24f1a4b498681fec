package heat

import "math"

// A law is what differs between a cook and a chill.
type law struct {
	chill    bool
	settles  bool
	humidity float64 // of the cook's chamber, kg a kg
	sdC      float64 // K, of the core of a piece about the meat's
	sdSlope  float64 // K/h, and a tenth of the slope
	over     *dryness
	falling  *falling // nil for a chill: it does not dry out
	memoryH  float64  // a comparison counts e times less after so long
}

// fridgeRH is the relative humidity of the air of a chill, per cent (choice of this
// project: a fridge with meat in it is moist).
const fridgeRH = 85.0

// lawOf gives the settings of both. They were picked for synthetic meat that obeys
// the same laws of drying and conduction: real meat may need others.
func lawOf(r record) law {
	if r.Chill {
		return law{chill: true, over: newDryness(), sdC: 0.7, sdSlope: 1.0, memoryH: 1.5}
	}
	return law{settles: true, over: newDryness(), falling: newFalling(), humidity: r.Humidity, sdC: 1.0, sdSlope: 1.5, memoryH: 2}
}

// in is the air at a temperature, °C.
func (l *law) in(airC float64) surrounding {
	if l.chill {
		vapour := fridgeRH / 100 * saturation(min(maxMoistC, max(minMoistC, airC)))
		return l.over.around(airC, vapourMass*vapour/max(1, SeaLevelPa-vapour))
	}
	return l.over.around(airC, l.humidity)
}

// level turns a temperature so that a core goes up in levels, a degree each, from 0
// to the last: -10 to 120 °C.
func (l *law) level(tC float64) float64 {
	if l.chill {
		return 120 - tC
	}
	return tC + 10
}

// celsius is the temperature of a level, °C.
func (l *law) celsius(level float64) float64 {
	if l.chill {
		return 120 - level
	}
	return level - 10
}

// piece makes the nth piece, from 1.
func (l *law) piece(n int) piece {
	if l.chill {
		return piece{
			perHour: between(0.03, 0.9, halton(n, 2)),
			biot:    between(0.15, 4, halton(n, 3)),
			wet0:    0.5 * halton(n, 5),
			rimC:    -5 + 20*halton(n, 7),
		}
	}
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
