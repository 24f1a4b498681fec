package growth

import "math"

// EndPH is the pH at which fermentation is over and degree-hours stop (practice
// guides of the US and Canada for fermented sausage, read in copies).
const EndPH = 5.3

// leastPH is the lowest pH that is believed (choice of this project): a meter in
// the air or out of order must not end the count.
const leastPH = 3

// DegreeHours sums time and degrees above a base temperature in the room where
// sausage ferments, until its pH is down: the limit to growth of Staphylococcus
// aureus. The limit depends on the highest temperature of the room (process/rules,
// DegreeHourRule). Its zero value is empty. Any one unit of temperature, the
// rule's.
type DegreeHours struct {
	Sum      float64 `json:"sum"`     // degrees times hours above the base, gaps included
	GapSum   float64 `json:"gap_sum"` // the part of it that was assumed, not seen
	GapHours float64 `json:"gap_hours"`
	Hours    float64 `json:"hours"`   // since the start, gaps included
	Highest  float64 `json:"highest"` // of the room; counts when Begun
	Begun    bool    `json:"begun"`   // a temperature was seen
	Ended    bool    `json:"ended"`   // the pH was seen at or below EndPH
}

// Add adds a straight line from v1 to v2 over dtHours above the base. Add the
// uncertainty of the probe to both values before. A temperature below the base
// counts as the base, it does not make up for a warmer hour. A segment longer than
// gapMaxHours, or with an end that is no finite number, is a gap: it counts at its
// warmer end, an unknown end at the highest temperature so far (choice of this
// project). Nothing is added after the pH is down or for a time that is not
// positive.
func (d *DegreeHours) Add(base, v1, v2, dtHours, gapMaxHours float64) {
	if d.Ended || !(dtHours > 0) || !finite(dtHours) {
		return
	}
	d.see(v1)
	d.see(v2)
	d.Hours += dtHours
	if dtHours <= gapMaxHours && usable(v1, v2, dtHours) {
		d.Sum += above(v1-base, v2-base) * dtHours
		return
	}
	d.GapHours += dtHours
	warmest := max(v1, v2)
	if !finite(v1) || !finite(v2) {
		warmest = d.Highest
	}
	if d.Begun && warmest > base {
		d.Sum += (warmest - base) * dtHours
		d.GapSum += (warmest - base) * dtHours
	}
}

func (d *DegreeHours) see(v float64) {
	if finite(v) && (!d.Begun || v > d.Highest) {
		d.Highest, d.Begun = v, true
	}
}

// above is the mean of the part above 0 of a straight line from a to b.
func above(a, b float64) float64 {
	low, high := min(a, b), max(a, b)
	switch {
	case high <= 0:
		return 0
	case low >= 0:
		return (low + high) / 2
	}
	return high * high / (2 * (high - low))
}

// PH takes a measured pH and reports whether fermentation is over. A value outside
// 3 to 14 is not believed. Once over, it stays over.
func (d *DegreeHours) PH(ph float64) bool {
	if ph >= leastPH && ph <= EndPH {
		d.Ended = true
	}
	return d.Ended
}

// MaxHours returns the whole hours that a room at a constant temperature may take
// under a limit in degree-hours: the hours are rounded down, as the fermentation
// form of the University of Wisconsin does (seen). +Inf at or below the base.
func MaxHours(limit, base, temperature float64) float64 {
	if !(temperature > base) {
		return math.Inf(1)
	}
	return math.Floor(limit/(temperature-base) + flat)
}
