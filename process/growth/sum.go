package growth

// A Sum carries the growth of one organism at one probe: the rate summed over
// time, which is all that Baranyi and Roberts' model has to remember (baranyi.go).
// Its zero value is empty.
type Sum struct {
	M    float64 `json:"m"`     // natural-log units, gaps included
	GapM float64 `json:"gap_m"` // the part of it that was assumed, not seen
}

// Add adds a straight line from v1 to v2 (°C) over dtHours. Add the uncertainty of
// the probe to both values before. A segment longer than gapMaxHours, or with an
// end that is no finite number, is a gap: it grows at the fastest rate of any
// temperature between its ends for all of it, and an unknown end may be any
// temperature. math.Inf(1) for gapMaxHours means no limit. Nothing is added for a
// time that is not positive and finite. It allocates nothing.
func (s *Sum) Add(m *Model, v1, v2, dtHours, gapMaxHours float64) {
	if !(dtHours > 0) || !finite(dtHours) {
		return
	}
	if dtHours <= gapMaxHours && usable(v1, v2, dtHours) {
		s.M += m.Segment(v1, v2, dtHours)
		return
	}
	if rate := m.Fastest(v1, v2); rate > 0 {
		s.M += rate * dtHours
		s.GapM += rate * dtHours
	}
}
