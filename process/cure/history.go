package cure

import "math"

const (
	secondsPerHour = 3600
	hoursPerDay    = 24
)

// Days returns the cure days, at refC (°C), earned on a straight line from t1C to
// t2C (°C) over the given hours. It is 0 for hours that are not positive and for
// values that are no finite numbers: the caller decides what a gap is worth.
func Days(t1C, t2C, hours, refC float64) float64 {
	if !(refC >= FrozenBelowC) {
		return 0
	}
	return integral(t1C, t2C, hours) / (Diffusivity(refC) * hoursPerDay)
}

// Tau returns the transformed time that a straight line from t1C to t2C (°C) over
// the given hours adds in a piece with path pathM, metres: the integral of D dt
// over the path squared (exact transformation: every solution in this package is
// a function of tau alone, whatever the temperature did). It is 0 where Days is,
// and for a path that is not positive. See Path.
func Tau(t1C, t2C, hours, pathM float64) float64 {
	if !(pathM > 0) {
		return 0
	}
	return integral(t1C, t2C, hours) * secondsPerHour / (pathM * pathM)
}

// panelK is the widest temperature step, K, of one Simpson panel; maxPanels
// bounds the work for values no meat ever had.
const (
	panelK    = 1.0
	maxPanels = 256
)

// integral is the integral of D over the segment, m²/s times hours. The line is
// split where it freezes, because D jumps there, and Simpson's rule is exact to
// 1e-9 on panels of a kelvin.
func integral(t1C, t2C, hours float64) float64 {
	if !(hours > 0) || !finite(t1C) || !finite(t2C) {
		return 0
	}
	low, high := min(t1C, t2C), max(t1C, t2C)
	if high < FrozenBelowC {
		return 0
	}
	if low < FrozenBelowC {
		hours *= (high - FrozenBelowC) / (high - low)
		low = FrozenBelowC
	}
	panels := int(min(max(math.Ceil((high-low)/panelK), 1), maxPanels))
	step, sum := (high-low)/float64(panels), 0.0
	for i := range panels {
		a := low + float64(i)*step
		sum += Diffusivity(a) + 4*Diffusivity(a+step/2) + Diffusivity(a+step)
	}
	return sum / 6 * hours / float64(panels)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
