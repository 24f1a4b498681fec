package lethality

import "math"

// TimeAbove returns how much of dt a straight line from v1 to v2 is at or above
// the threshold. The result has the unit of dt. It is 0 for a dt that is not
// positive and for values that are no finite numbers.
func TimeAbove(v1, v2, dt, threshold float64) float64 {
	return TimeWithin(v1, v2, dt, threshold, math.Inf(1))
}

// TimeWithin returns how much of dt a straight line from v1 to v2 lies in the
// closed range lo to hi, either of which may be infinite. The result has the
// unit of dt. It is 0 for a dt that is not positive and for values that are no
// finite numbers.
func TimeWithin(v1, v2, dt, lo, hi float64) float64 {
	if !usable(v1, v2, dt) {
		return 0
	}
	low, high := min(v1, v2), max(v1, v2)
	if high < lo || low > hi {
		return 0
	}
	if low >= lo && high <= hi {
		return dt
	}
	inside := min(high, hi) - max(low, lo)
	return dt * (inside / (high - low))
}

// Crossing returns when, after v1, a straight line from v1 to v2 changes from
// below the level to at or above it, or back. The offset is in the unit of dt,
// from 0 to dt; a step without time, dt 0, crosses at 0. ok is false when both ends
// are on the same side, for a negative dt, and for values that are no finite
// numbers. A line that only touches the level from above does not cross it, so a
// stage that ends below a limit is not ended by standing at the limit.
func Crossing(v1, v2, dt, level float64) (offset float64, ok bool) {
	if !(dt >= 0) || !finite(v1) || !finite(v2) || (v1 < level) == (v2 < level) {
		return 0, false
	}
	return dt * ((level - v1) / (v2 - v1)), true
}

func usable(v1, v2, dt float64) bool {
	return dt > 0 && finite(v1) && finite(v2)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
