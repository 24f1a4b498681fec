package heat

// leastRateMax is the lowest a core's limit of rate is set, K/min: a big piece moves
// less in a minute than a probe's own noise (choice of this project).
const leastRateMax = 0.5

// The steepest fall of the centre lies between these Fo for every body.
const minSteepFo, maxSteepFo = 0.03, 5.0

// Steepest is when the centre of a body changes fastest, as Fo, and how fast, as
// part of the whole difference per Fo. From the exact series.
func (s *Series) Steepest() (fo, rate float64) {
	fo = bisect(s.bend, minSteepFo, maxSteepFo)
	return fo, s.rate(fo)
}

// Ceiling is the fastest the centre of a body can change, K/min, with air differenceK
// warmer (or colder) than it at the start: difference × (alpha/L²) × steepest rate.
// A reading that changes faster is no meat. ok is false for a body out of range.
func (b Body) Ceiling(differenceK float64) (perMin float64, ok bool) {
	s, ok := NewSeries(b.Shape, b.Biot())
	if !ok || !b.valid() {
		return 0, false
	}
	_, rate := s.Steepest()
	return max(differenceK, -differenceK) * rate / (60 * b.scaleH()), true
}

// MemoryMin is about how long the centre still feels what the air was, minutes: Fo = 1.
func (b Body) MemoryMin() float64 { return 60 * b.scaleH() }

// RateMax is what to reject a core's reading at when the size is known, K/min: twice
// the ceiling, at least 0.5 (choice of this project).
func (b Body) RateMax(differenceK float64) (perMin float64, ok bool) {
	ceiling, ok := b.Ceiling(differenceK)
	return max(leastRateMax, 2*ceiling), ok
}
