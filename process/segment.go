package process

import "time"

// interpolable is the longest spacing of readings across which a straight line
// may be drawn for a sum that it could help. The federal cooking guideline
// (FSIS-GD-2021-14, p. 73 to 75) tolerates linear interpolation up to 30 min.
const interpolable = 30 * time.Minute

// A Sample is one believed value.
type Sample struct {
	At    time.Time `json:"at,omitzero"`
	Value float64   `json:"value"`
}

// A segment is the straight line between two believed samples of one probe. It
// is a gap when the readings between are missing; nothing is known about the
// value inside a gap but its two ends.
type segment struct {
	from, to time.Time
	v1, v2   float64
	gap      bool
	jumped   bool // the clock stepped in it: how long it was nobody knows
}

func (s segment) minutes() float64 { return s.to.Sub(s.from).Minutes() }

func (s segment) warmer() float64 { return max(s.v1, s.v2) }

// blind reports whether the gap is too long to be bridged by a line.
func (s segment) blind() bool { return s.gap && (s.jumped || s.to.Sub(s.from) > interpolable) }

func (s segment) at(t time.Time) float64 {
	whole := s.to.Sub(s.from)
	if whole <= 0 {
		return s.v2
	}
	return s.v1 + (s.v2-s.v1)*float64(t.Sub(s.from))/float64(whole)
}

// startingAt and endingAt cut the segment. The ends of a gap stay what they
// were: inside it nothing is known.
func (s segment) startingAt(t time.Time) segment {
	if !s.gap {
		s.v1 = s.at(t)
	}
	s.from = t
	return s
}

func (s segment) endingAt(t time.Time) segment {
	if !s.gap {
		s.v2 = s.at(t)
	}
	s.to = t
	return s
}

// shifted moves both values by k, for the uncertainty of the probe.
func (s segment) shifted(k float64) segment {
	s.v1 += k
	s.v2 += k
	return s
}
