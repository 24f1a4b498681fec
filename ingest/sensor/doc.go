// Package sensor turns what bare hardware sends, ohms, counts of a converter or
// millivolts, into °C: thermistors (NTC), platinum (Pt100, Pt1000) and thermocouples
// of type K.
//
// It is pure and knows nothing of the rest of flitch. A number that no working sensor
// sends, as of a broken wire, gives a reason in words and no temperature.
package sensor

import (
	"fmt"
	"math"
)

// A Conversion gives the temperature, °C, of a number as the sensor sent it. coldC is
// the temperature of the cold junction, °C; only thermocouples look at it. When why is
// not empty there is no temperature (tC is no number) and why says so in words.
type Conversion func(sent, coldC float64) (tC float64, why string)

// none is the answer when there is no temperature.
func none(format string, args ...any) (float64, string) {
	return math.NaN(), fmt.Sprintf(format, args...)
}

// finite reports a number that is one.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// root finds where f crosses y between lo and hi, by halving: f rises all the way, so
// nothing can run away. 60 halvings of 2000 K leave less than rounding.
func root(f func(float64) float64, y, lo, hi float64) float64 {
	for range 60 {
		mid := (lo + hi) / 2
		if f(mid) < y {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
