package process

import "time"

// Readings are those of one probe as they count, in the order of time. Spacing is the
// longest time between two of them that is no gap.
type Readings struct {
	Samples []Sample
	Spacing time.Duration
}

// A Moment is when something happened, as far as it was seen: after Earliest, where it had
// not yet, and by Latest, where it had. Zero ends are not known.
type Moment struct {
	Earliest, Latest time.Time
	Seen             bool // no reading is missing between the two
}

// An Above is how long something was on the wrong side of a temperature.
type Above struct {
	C       float64 // °C
	Minutes float64 // a gap with one end on the wrong side counts in full
	Blind   float64 // minutes in gaps too long for a line, both ends of which are on the right side
}

// between is the moment between two samples.
func (r Readings) between(before, after Sample) Moment {
	return Moment{Earliest: before.At, Latest: after.At, Seen: after.At.Sub(before.At) <= r.Spacing}
}

// within are the readings from one moment to another, and the last one before.
func (r Readings) within(from, to time.Time) Readings {
	first, last := 0, 0
	for i, s := range r.Samples {
		if !s.At.After(from) {
			first = i
		}
		if !s.At.After(to) {
			last = i + 1
		}
	}
	return Readings{r.Samples[first:max(first, last)], r.Spacing}
}

// each calls do for the lines between neighbours, the part from one moment on.
func (r Readings) each(from time.Time, do func(segment)) {
	for i := 1; i < len(r.Samples); i++ {
		a, b := r.Samples[i-1], r.Samples[i]
		s := segment{from: a.At, to: b.At, v1: a.Value, v2: b.Value, gap: b.At.Sub(a.At) > r.Spacing}
		if s.from.Before(from) {
			s = s.startingAt(from)
		}
		if s.to.After(s.from) {
			do(s)
		}
	}
}

// above and below are how long the readings were over or under a temperature. The worse
// end of a gap stands for what was not seen.
func (r Readings) above(from time.Time, c float64) Above { return r.beyond(from, c, 1) }
func (r Readings) below(from time.Time, c float64) Above { return r.beyond(from, c, -1) }

func (r Readings) beyond(from time.Time, c, side float64) Above {
	out := Above{C: c}
	r.each(from, func(s segment) {
		s.v1, s.v2 = s.v1*side, s.v2*side
		minutes, blind := minutesAbove(s, c*side)
		out.Minutes, out.Blind = out.Minutes+minutes, out.Blind+blind
	})
	return out
}

// gaps are the times without readings, up to now.
func (r Readings) gaps(now time.Time) (out []Gap) {
	for i, s := range r.Samples {
		next := now
		if i+1 < len(r.Samples) {
			next = r.Samples[i+1].At
		}
		if next.Sub(s.At) > r.Spacing {
			out = append(out, Gap{s.At, next})
		}
	}
	return out
}

// last, lowest and highest are nil without readings.
func (r Readings) last() *Sample { return r.most(func(Sample, Sample) bool { return true }) }
func (r Readings) lowest() *Sample {
	return r.most(func(s, than Sample) bool { return s.Value < than.Value })
}
func (r Readings) highest() *Sample {
	return r.most(func(s, than Sample) bool { return s.Value > than.Value })
}

func (r Readings) most(more func(s, than Sample) bool) *Sample {
	var found *Sample
	for i := range r.Samples {
		if found == nil || more(r.Samples[i], *found) {
			found = &r.Samples[i]
		}
	}
	return found
}

// AboveSince is how long the readings were above a temperature from one moment on, of
// which they may begin before.
func (r Readings) AboveSince(from time.Time, c float64) Above { return r.above(from, c) }
