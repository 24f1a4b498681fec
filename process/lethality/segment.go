package lethality

import "math"

// flat is the temperature difference, K, below which a segment counts as level.
const flat = 1e-9

// Segment returns the credit F of a straight line from v1 to v2 (°C) over dtMin
// minutes, in minutes at the target's reference temperature.
//
// It is the exact integral. Between floor and cap that is dt (L2-L1)/ln(L2/L1)
// with L the lethal rate at the ends, the logarithmic mean; the line is split
// where it crosses the floor, the cap, or the temperature at which z changes. The
// trapezoid on L would give too much credit, because L is convex: 239 for 76
// minutes on a ramp from 50 to 65 °C in an hour.
func (t Target) Segment(v1, v2, dtMin float64) float64 {
	if !usable(v1, v2, dtMin) {
		return 0
	}
	low, high := min(v1, v2), max(v1, v2)
	if high-low < flat {
		return dtMin * t.Rate(low)
	}
	minutesPerK := dtMin / (high - low)
	credit := 0.0
	if a, b := max(low, t.FloorC), min(high, t.CapC); b > a {
		credit += minutesPerK * t.between(a, b)
	}
	if capped := high - max(low, t.CapC); capped > 0 {
		credit += capped * minutesPerK * t.rate(t.CapC)
	}
	return credit
}

// between is the rate summed over the temperatures from a to b, which is split
// where z changes.
func (t Target) between(a, b float64) float64 {
	if t.ZAboveC > 0 && a < t.RefC && b > t.RefC {
		return (t.RefC-a)*t.meanRate(a, t.RefC, t.ZC) + (b-t.RefC)*t.meanRate(t.RefC, b, t.ZAboveC)
	}
	return (b - a) * t.meanRate(a, b, t.slope(b))
}

// meanRate is the logarithmic mean of the rates at a and b under one z, written so
// that it keeps its digits when they are close.
func (t Target) meanRate(a, b, z float64) float64 {
	x := (b - a) * math.Ln10 / z
	return t.rate(a) * math.Expm1(x) / x
}

// Lower returns the credit if the whole segment had been at its colder end: the
// strict bound to show beside Segment.
func (t Target) Lower(v1, v2, dtMin float64) float64 {
	if !usable(v1, v2, dtMin) {
		return 0
	}
	return dtMin * t.Rate(min(v1, v2))
}

// below returns the credit of the part of a straight line under a level, °C.
func (t Target) below(v1, v2, dtMin, level float64) float64 {
	low, high := min(v1, v2), max(v1, v2)
	switch {
	case high <= level:
		return t.Segment(v1, v2, dtMin)
	case low >= level:
		return 0
	}
	return t.Segment(low, level, dtMin*(level-low)/(high-low))
}
