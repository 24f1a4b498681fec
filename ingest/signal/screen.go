package signal

import "math"

// A Verdict is what was found about one sample.
type Verdict struct {
	Min, Value float64 // minute from any start, value as it came
	Faults     Fault
}

// A Screen tests the samples of one probe in their order. Whether a sample is a
// spike is known only with the next one, so each good sample waits for it. The zero
// value is ready; it holds no pointers and can be stored as JSON.
type Screen struct {
	Last, Waiting       Point // newest sample tested, and the one after it
	HasLast, HasWaiting bool
	Recent              [maxFlat]float64 // newest samples tested, in their order
	N                   int
	out                 [2]Verdict
}

// A Point is one sample.
type Point struct{ Min, C float64 }

// Add takes the next sample and returns what is known now: the sample itself when it
// is no measurement, else the one before it that waited. Times go on; a sample that
// does not is Missing. The slice is overwritten by the next call.
func (s *Screen) Add(minute, value float64, l Limits) []Verdict {
	if f := s.alone(minute, value, l); f != 0 {
		s.out[0] = Verdict{minute, value, f}
		return s.out[:1]
	}
	next, waited := Point{minute, value}, s.HasWaiting
	if waited {
		s.out[0] = s.tell(&next, l)
	}
	s.Waiting, s.HasWaiting = next, true
	if waited {
		return s.out[:1]
	}
	return nil
}

// Flush returns what is known about the sample that waits, when no other will come.
func (s *Screen) Flush(l Limits) []Verdict {
	if !s.HasWaiting {
		return nil
	}
	s.out[0] = s.tell(nil, l)
	s.HasWaiting = false
	return s.out[:1]
}

// alone tests a sample that needs no other, or only those before it.
func (s *Screen) alone(minute, value float64, l Limits) Fault {
	before, any := s.Last, s.HasLast
	if s.HasWaiting {
		before, any = s.Waiting, true
	}
	switch {
	case math.IsNaN(value) || math.IsInf(value, 0) || math.IsNaN(minute) || any && minute <= before.Min:
		return Missing
	case among(value, l.Codes):
		return Sentinel
	case among(value, l.Doubtful) && (!any || math.Abs(value-before.C) > DoubtK):
		return Sentinel
	case value < l.Lo || value > l.Hi:
		return Range
	}
	return 0
}

func among(value float64, codes []float64) bool {
	for _, c := range codes {
		if math.Abs(value-c) <= near {
			return true
		}
	}
	return false
}

// tell judges the sample that waits, with the one after it if there is one.
func (s *Screen) tell(after *Point, l Limits) Verdict {
	w := s.Waiting
	v := Verdict{Min: w.Min, Value: w.C}
	if s.HasLast && after != nil && IsSpike(s.Last.C, w.C, after.C, l.SpikeC) {
		v.Faults = Spike
		return v
	}
	if s.HasLast && IsRate(s.Last.C, w.C, w.Min-s.Last.Min, l.RatePerMin) {
		v.Faults |= Rate
	}
	s.remember(w)
	if n := min(l.FlatN, maxFlat); n > 0 && s.N >= n && IsFlat(s.Recent[s.N-n:s.N], l.Resolution) {
		v.Faults |= Flat
	}
	return v
}

func (s *Screen) remember(p Point) {
	s.Last, s.HasLast = p, true
	if s.N == maxFlat {
		copy(s.Recent[:], s.Recent[1:])
		s.N--
	}
	s.Recent[s.N] = p.C
	s.N++
}
