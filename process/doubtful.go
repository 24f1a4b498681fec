package process

import "flitch/ingest/signal"

// What one probe says may be wrong only beside what others say, or beside what it said
// before. It is judged here, behind the sieve, so that a night that is watched,
// rehearsed or recounted comes to the same.

// doubtful is why a sample that stands by itself is left out all the same.
func (b *Batch) doubtful(t *Track, s judged) signal.Fault {
	switch {
	case b.aboveAir(t, s.Sample):
		return signal.AboveAir
	case b.drySockAt(t, s.Sample):
		return signal.DrySock
	case s.fault == signal.Rate && t.Probe.Placement != Core: // a core is told apart by its watch
		return signal.Rate
	case b.standsStill(t, s):
		return signal.Flat
	}
	return 0
}

// leaveOut counts a sample that is left out. Across a fast one a line is drawn, as
// across a spike; what the others stood for was not seen.
func (b *Batch) leaveOut(t *Track, s Sample, fault signal.Fault) {
	t.Bad++
	switch fault {
	case signal.Rate:
		t.Quick = s
	case signal.Flat:
		b.standStill(t)
	case signal.AboveAir:
		t.outside(s, b.hottestAir())
		t.Torn = true
	default:
		t.Torn = true
	}
	t.Doubt = fault
	t.Flagged = flag(t.Flagged, fault, s.At, s.At, 1)
}
