package lethality

// A Zone is a range of product temperature in which bacteria of concern grow.
// Both ends belong to it.
type Zone struct {
	FromC, ToC float64 // °C; either may be infinite
	Source     string
}

// ConsumerZone returns 40 to 140 °F (4.44 to 60 °C), the wording of the US
// consumer advice (seen, NCHFP).
func ConsumerZone() Zone {
	return Zone{FromC: 40.0 / 9, ToC: 60, Source: "USDA consumer wording 40 to 140 °F, read at nchfp.uga.edu"}
}

// FoodCodeZone returns 41 to 135 °F (5 to 57.2 °C), that of the FDA Food Code
// 3-501.16 (seen in state adoptions).
func FoodCodeZone() Zone {
	return Zone{FromC: 5, ToC: 103 / 1.8, Source: "FDA Food Code 3-501.16, 41 to 135 °F, read in state adoptions"}
}

// touches reports whether the temperatures between v1 and v2 reach into the zone.
// An end that is no finite number may be anything, so it does.
func (z Zone) touches(v1, v2 float64) bool {
	if !finite(v1) || !finite(v2) {
		return true
	}
	return max(v1, v2) >= z.FromC && min(v1, v2) <= z.ToC
}

// An Exposure is the time spent in a zone. Its zero value is empty. Keep one for
// come-up, one for cooling and one for holding: the rules differ.
type Exposure struct {
	Minutes    float64 `json:"minutes"`     // in the zone, gaps included
	GapMinutes float64 `json:"gap_minutes"` // the part of it that was not seen
}

// Add adds a straight line from v1 to v2 (°C) over dtMin minutes. A segment
// longer than gapMaxMin minutes, or with an end that is no finite number, is a
// gap: it counts in full when the range between its ends touches the zone, and
// not at all otherwise (choice of this project). math.Inf(1) for gapMaxMin means
// no limit.
func (e *Exposure) Add(z Zone, v1, v2, dtMin, gapMaxMin float64) {
	if !(dtMin > 0) {
		return
	}
	if dtMin <= gapMaxMin && usable(v1, v2, dtMin) {
		e.Minutes += TimeWithin(v1, v2, dtMin, z.FromC, z.ToC)
		return
	}
	if z.touches(v1, v2) {
		e.Minutes += dtMin
		e.GapMinutes += dtMin
	}
}
