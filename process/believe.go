package process

import (
	"math"

	"flitch/ingest/signal"
)

// A Sieve is where every reading of a probe is judged by itself, in this order:
// missing, sentinel, range, unit, spike, rate, flat. What needs other probes comes
// after it. A sample that jumps farther than its placement does waits for the next
// one, for a spike is known by its neighbours; all others are believed at once, so
// that nothing comes more than one sample late for it.
type Sieve struct {
	Newest Sample   `json:"newest"`        // judged, and no spike
	Held   Sample   `json:"held,omitzero"` // jumped, and waits
	Run    Standing `json:"run,omitzero"`
	Unit   UnitAsk  `json:"unit,omitzero"`

	believed [2]judged
	refused  [2]refusal
}

// A judged sample may be believed by itself. It carries Rate when it changed faster
// than the place can.
type judged struct {
	Sample
	fault signal.Fault
	run   Standing // of identical readings, up to this one
}

// A refusal is a sample that is no measurement, and why.
type refusal struct {
	Sample
	fault signal.Fault
	why   string
}

// judge is what is wrong with a reading by itself. What was stored as bad stays so,
// whatever the reason was; its words are kept.
func judge(r Reading, p Placement) refusal {
	out := refusal{Sample: Sample{r.Measured, r.Value}}
	out.fault, out.why = signal.Judge(r.Value, string(p))
	if r.Quality == Bad && out.fault == 0 {
		out.fault = signal.Sentinel // a number that means something else for this probe only
	}
	if r.Quality == Bad && r.Reason != "" {
		out.why = r.Reason
	}
	return out
}

// take takes the next sample of a probe, later than the ones before. rate is how fast
// it can change, K/min; 0 is not tested. It returns the samples that may now be
// believed and those that may not, oldest first; both are good until the next call.
func (v *Sieve) take(r refusal, of PlacedProbe, rate float64) (believed []judged, refused []refusal) {
	p := of.Placement
	believed, refused = v.believed[:0], v.refused[:0]
	if r.fault != signal.Missing {
		r.Value = v.Unit.Converted(r.Sample)
	}
	if why := v.otherUnit(r, p); why != "" {
		return believed, append(refused, refusal{r.Sample, signal.OtherUnit, why})
	}
	if r.fault != 0 {
		return believed, append(refused, r)
	}
	if !v.Held.At.IsZero() {
		held := v.Held
		v.Held = Sample{}
		if !v.alone(held, r.Sample, p) {
			believed = append(believed, v.accept(held, of, rate))
			return append(believed, v.accept(r.Sample, of, rate)), refused
		}
		refused = append(refused, refusal{held, signal.Spike, "a reading that stands alone"})
	}
	if v.jumps(r.Sample, p) {
		v.Held = r.Sample
		return believed, refused
	}
	return append(believed, v.accept(r.Sample, of, rate)), refused
}

// accept takes a sample that is no spike, and marks one that came too fast.
func (v *Sieve) accept(s Sample, of PlacedProbe, rate float64) judged {
	out := judged{Sample: s}
	before := v.Newest
	if !before.At.IsZero() && signal.IsRate(before.Value, s.Value, s.At.Sub(before.At).Minutes(), rate) {
		out.fault = signal.Rate
	}
	v.Run.follow(before, s, of.allowed())
	v.Newest, out.run = s, v.Run
	return out
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
