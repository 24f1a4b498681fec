package alerts

import "time"

// shortestBreak is the shortest silence between two known samples that counts as
// a gap. Proposal: most probes of the trade publish every 10 s to 5 min.
const shortestBreak = 5 * time.Minute

// ConditionState is the picture drawn from the condition machine.
type ConditionState string

// The states of a condition, in the words of ISA-18.2.
const (
	Normal   ConditionState = "normal"
	Pending  ConditionState = "pending"  // beyond a limit, on-delay running
	Active   ConditionState = "active"   // raised
	Clearing ConditionState = "clearing" // raised, back inside, off-delay running
)

// A Condition follows the samples of one measure: how long each trigger has been
// met, how long the value has been back inside. It does not know whether the
// alarm is raised.
type Condition struct {
	Triggers []Sustained   `json:"triggers,omitempty"` // one for each trigger of the entry
	Inside   time.Time     `json:"inside,omitzero"`    // at or inside the clear limit since
	Last     time.Time     `json:"last,omitzero"`      // time of the last known sample
	Worst    float64       `json:"worst"`              // of the stretch beyond a limit
	Spacing  time.Duration `json:"spacing_ns"`         // usual time between known samples
	Blind    bool          `json:"blind,omitempty"`    // a sample without a value came since Last
	Answered bool          `json:"answered,omitempty"` // ended by a person: not raised again before it was normal
	Looked   time.Time     `json:"looked,omitzero"`    // the newest hour at which an entry that has one was looked at
	Rung     time.Time     `json:"rung,omitzero"`      // summed time until then has rung
}

// Sustained is how long one trigger has been met.
type Sustained struct {
	Since  time.Time `json:"since,omitzero"`   // beyond without a break since; zero when not beyond
	Pieces []Piece   `json:"pieces,omitempty"` // time beyond within the window, when it is summed
}

// beyond reports whether v is beyond the limit; the limit itself is beyond.
func (t Trigger) beyond(v float64) bool {
	if t.Below {
		return v <= t.Limit
	}
	return v >= t.Limit
}

// inside reports whether v is at or inside the limit that ends the alarm.
func (e Entry) inside(v float64) bool {
	if e.Clear.Never {
		return false
	}
	if e.Triggers[0].Below {
		return v >= e.Clear.Limit
	}
	return v <= e.Clear.Limit
}

// worse returns the value that is farther beyond the limit.
func (e Entry) worse(a, b float64) float64 {
	if e.Triggers[0].Below {
		return min(a, b)
	}
	return max(a, b)
}

// allowance is the longest time between two known samples through which a value
// is taken to have held: three times the usual spacing, at least five minutes.
func (c *Condition) allowance() time.Duration {
	return max(3*c.Spacing, shortestBreak)
}

// take follows one known sample. A gap restarts both delays, because nobody saw
// what happened in it.
func (c *Condition) take(e Entry, at time.Time, v float64) {
	if len(c.Triggers) != len(e.Triggers) {
		c.Triggers = make([]Sustained, len(e.Triggers))
	}
	gap := at.Sub(c.Last)
	near := gap <= c.allowance()
	if c.Last.IsZero() {
		gap = 0
	}
	if c.Worst = e.worse(c.Worst, v); !c.pending() {
		c.Worst = v
	}
	for i := range e.Triggers {
		c.Triggers[i].take(e.Triggers[i], c.Last, at, v, near)
	}
	switch {
	case !e.inside(v):
		c.Inside = time.Time{}
	case c.Inside.IsZero() || !near:
		c.Inside = at
	}
	c.Answered = c.Answered && c.pending()
	c.learn(gap)
	c.Last, c.Blind = at, false
}

// take follows one known sample for one trigger. Time between two samples adds
// to the sum when it began beyond the limit; across a gap it must also end there.
func (s *Sustained) take(t Trigger, last, at time.Time, v float64, near bool) {
	beyond, was := t.beyond(v), !s.Since.IsZero()
	if t.Sum > 0 {
		if was && (near || beyond) {
			s.add(Piece{From: last, To: at})
		}
		s.forget(at.Add(-t.Window))
	}
	switch {
	case !beyond:
		s.Since = time.Time{}
	case !was || !near:
		s.Since = at
	}
}

// learn follows the usual spacing: up quickly, so that a probe set to publish
// less often is not taken for a broken one for long; down slowly. One long
// silence counts as no more than two allowances.
func (c *Condition) learn(gap time.Duration) {
	gap = min(gap, 2*c.allowance())
	switch {
	case gap <= 0:
	case c.Spacing == 0:
		c.Spacing = gap
	case gap > c.Spacing:
		c.Spacing += (gap - c.Spacing) / 2
	default:
		c.Spacing -= (c.Spacing - gap) / 16
	}
}

// newPart says that half of a sum must be new after it has rung: a whole window
// that is over its sum may not ring at the first minute after a clear (proposal).
const newPart = 2

// met returns the loudest trigger that is met at the last sample, the later of
// two equally loud ones, or -1; and whether only its sum has passed. Continuous
// delays are patience times as long.
func (c *Condition) met(e Entry, patience time.Duration) (trigger int, summed bool) {
	trigger = -1
	for i, t := range e.Triggers {
		s := &c.Triggers[i]
		if s.Since.IsZero() || trigger >= 0 && t.Level < e.Triggers[trigger].Level {
			continue
		}
		switch {
		case c.Last.Sub(s.Since) >= patience*t.For:
			trigger, summed = i, false
		case t.Sum > 0 && s.sum() >= t.Sum && s.newer(c.Rung) >= t.Sum/newPart:
			trigger, summed = i, true
		}
	}
	return trigger, summed
}

// pending reports whether the value is beyond any trigger.
func (c *Condition) pending() bool {
	for i := range c.Triggers {
		if !c.Triggers[i].Since.IsZero() {
			return true
		}
	}
	return false
}

// clearDue is when the off-delay ends if no further sample comes, or zero. One
// sample may be missing; a value that has not been seen for longer ends nothing.
func (c *Condition) clearDue(e Entry) time.Time {
	if c.Inside.IsZero() || c.Blind {
		return time.Time{}
	}
	due := c.Inside.Add(e.Clear.For)
	if due.After(c.Last.Add(2 * c.Spacing)) {
		return time.Time{}
	}
	return due
}

// settle notes that the summed time has rung. The window keeps it: an end is the
// deadband's word on the value now, and does not make the day colder.
func (c *Condition) settle() {
	c.Inside = time.Time{}
	for i := range c.Triggers {
		if len(c.Triggers[i].Pieces) > 0 {
			c.Rung = c.Last
		}
	}
}

// restart forgets everything, because the question no longer applies.
func (c *Condition) restart() {
	for i := range c.Triggers {
		c.Triggers[i].Since, c.Triggers[i].Pieces = time.Time{}, c.Triggers[i].Pieces[:0]
	}
	c.Inside, c.Last, c.Rung = time.Time{}, time.Time{}, time.Time{}
	c.Spacing, c.Blind, c.Answered = 0, false, false
}
