package process

import (
	"math"

	"flitch/ingest/signal"
)

// A Sieve lets no reading of a probe through that stands alone between its
// neighbours: a spike is no measurement. A sample that jumps farther than its
// placement does waits for the next one; all others are believed at once, so that
// nothing comes late for it.
type Sieve struct {
	Newest Sample `json:"newest"`        // believed
	Held   Sample `json:"held,omitzero"` // jumped, and waits

	believed [2]Sample
	refused  [2]refusal
}

// A refusal is a sample that is no measurement, and why.
type refusal struct {
	Sample
	why string
}

// take takes the next sample of a placement, later than the ones before. It returns
// the samples that may now be believed and those that may not, oldest first; both
// are good until the next call.
func (v *Sieve) take(s Sample, p Placement) (believed []Sample, refused []refusal) {
	believed, refused = v.believed[:0], v.refused[:0]
	if v.otherUnit(s, p) {
		return believed, append(refused, refusal{s, "as the reading before it in degrees Fahrenheit: look at the unit of the sensor"})
	}
	if !v.Held.At.IsZero() {
		held := v.Held
		v.Held = Sample{}
		if !v.alone(held, s, p) {
			v.Newest = s
			return append(believed, held, s), refused
		}
		refused = append(refused, refusal{held, "a reading that stands alone"})
	}
	if v.jumps(s, p) {
		v.Held = s
		return believed, refused
	}
	v.Newest = s
	return append(believed, s), refused
}

// unitK is how near a reading in °F has to be to the one before it in °C, K (proposal).
const unitK = 2.0

// otherUnit reports a step that nothing in a cold place makes, to just the number that
// °F would show: somebody has turned the sensor over. Nothing of a fire is doubted so.
func (v *Sieve) otherUnit(s Sample, p Placement) bool {
	if p != Product && p != Air || v.Newest.At.IsZero() {
		return false
	}
	before := v.Newest.Value
	return math.Abs((s.Value-32)/1.8-before) <= unitK && s.Value-before > signal.SpikeLimit(string(p))
}

// jumps reports whether s has to wait for the next sample to be believed.
func (v *Sieve) jumps(s Sample, p Placement) bool {
	limit := spikeK(s.Value, p)
	if v.Newest.At.IsZero() {
		return signal.Doubtful(s.Value, string(p))
	}
	return limit > 0 && math.Abs(s.Value-v.Newest.Value) > limit
}

// alone reports whether the held sample stands alone between its neighbours.
func (v *Sieve) alone(held, after Sample, p Placement) bool {
	before := v.Newest.Value
	if v.Newest.At.IsZero() {
		before = after.Value
	}
	return signal.IsSpike(before, held.Value, after.Value, spikeK(held.Value, p))
}

// spikeK is how far a value may stand outside its neighbours, K; 0 is not tested. A
// value that a sensor also says when it has just started has to be nearer.
func spikeK(value float64, p Placement) float64 {
	limit := signal.SpikeLimit(string(p))
	if signal.Doubtful(value, string(p)) {
		return min(limit, signal.DoubtK)
	}
	return limit
}

// passed reports whether a time is not after what was already taken.
func (v *Sieve) passed(s Sample) bool {
	newest := v.Newest.At
	if v.Held.At.After(newest) {
		newest = v.Held.At
	}
	return !newest.IsZero() && !s.At.After(newest)
}
