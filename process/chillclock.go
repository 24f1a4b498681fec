package process

import (
	"time"

	"flitch/process/rules"
)

// undone is how soon after a leg ended the core has to be back above its end for
// the end not to count (cook-cool-hold specification 3.1, a design choice).
const undone = 5 * time.Minute

// A Leg is one leg of the chill for one core. The rule decides by the warmest
// core with the uncertainty of its probe added.
type Leg struct {
	FromC    float64   `json:"from_c"`
	AtOnce   bool      `json:"at_once,omitempty"` // counted from the end of the heat, whatever the core
	ToC      float64   `json:"to_c"`
	MaxHours float64   `json:"max_h"`
	Down     time.Time `json:"down,omitzero"`  // last fall through FromC, also before the fire was out
	Start    time.Time `json:"start,omitzero"` // never moved once set: a warm load does not reset it
	End      time.Time `json:"end,omitzero"`
}

func newLegs(rule ChillRule) []Leg {
	option, _ := rules.ChillOption(rule.Option)
	legs := make([]Leg, 0, len(option.Legs))
	for _, l := range option.Legs {
		legs = append(legs, Leg{FromC: l.FromC, AtOnce: l.FromStart, ToC: l.ToC, MaxHours: l.MaxHours})
	}
	return legs
}

// add follows a part of a segment. In a gap the start is the earlier end and the
// end the later one, so that what was not seen is counted against the leg.
func (l *Leg) add(s span, uncertainty float64) {
	seg := s.shifted(uncertainty)
	if s.stage.Heat && seg.v2 > l.FromC {
		l.Down = time.Time{}
	}
	if !l.AtOnce && seg.v1 > l.FromC && seg.v2 <= l.FromC {
		l.Down = seg.crossing(l.FromC, seg.from)
		if !s.stage.Heat && l.Start.IsZero() {
			l.Start = l.Down
		}
	}
	if l.Start.IsZero() || s.stage.Heat {
		return
	}
	switch {
	case l.End.IsZero() && seg.v2 <= l.ToC:
		l.End = seg.crossing(l.ToC, seg.to)
	case !l.End.IsZero() && seg.v2 > l.ToC && seg.to.Sub(l.End) <= undone:
		l.End = time.Time{}
	}
}

// crossing is when the line passes level; a gap has no line, so inGap stands in.
func (s segment) crossing(level float64, inGap time.Time) time.Time {
	if s.gap || s.v1 == s.v2 {
		return inGap
	}
	share := (s.v1 - level) / (s.v1 - s.v2)
	return s.from.Add(time.Duration(min(1, max(0, share)) * float64(s.to.Sub(s.from))))
}

// heatOff starts the legs of a core that is already below their start: from when
// it last fell through it, or from the moment the fire was put out. A core that was
// heard only later has cooled unseen since then, so that counts against it.
func (b *Batch) heatOff(t *Track) {
	at := b.heatLeft()
	if at.IsZero() || t.Last.At.IsZero() {
		return
	}
	for i := range t.Legs {
		l := &t.Legs[i]
		if !l.Start.IsZero() || !l.AtOnce && t.Last.Value+t.Uncertainty() > l.FromC {
			continue
		}
		l.Start = at
		if !l.Down.IsZero() {
			l.Start = l.Down
		}
	}
}

// hours is how long the leg took, or has taken until now.
func (l *Leg) hours(now time.Time) float64 {
	if l.Start.IsZero() {
		return 0
	}
	if l.End.IsZero() {
		return now.Sub(l.Start).Hours()
	}
	return l.End.Sub(l.Start).Hours()
}

// chillClock is leg i for the slowest core.
func (b *Batch) chillClock(i int, now time.Time) (Clock, bool) {
	option, ok := rules.ChillOption(b.Plan.Chill.Option)
	if !ok || i >= len(option.Legs) {
		return Clock{}, false
	}
	c := Clock{Name: chillClocks[i], Rule: b.Plan.Chill.Rule, Source: b.Plan.Chill.Source, Limit: option.Legs[i].MaxHours, Unit: "h"}
	slowest := b.slowestLeg(i, now)
	if slowest == nil {
		c.Verdict = b.unmeasuredUntil(func(b *Batch) bool { return !b.Open() })
		return c, true
	}
	leg := slowest.Legs[i]
	c.From, c.To, c.Sum = leg.Start, leg.End, leg.hours(now)
	c.Running = leg.End.IsZero() && b.Open()
	c.Verdict = b.legVerdict(&c, i, slowest, now)
	if c.Verdict == Met && !b.legsOver(&c, i) {
		c.Verdict = b.unmeasuredUntil(func(b *Batch) bool { return !b.Open() })
	}
	return c, true
}

// legsOver reports whether leg i of every piece was seen to its end, and names the
// pieces of which it was not: the slowest core that was seen says nothing of them.
func (b *Batch) legsOver(c *Clock, i int) bool {
	over := true
	b.eachTrack(Core, func(t *Track) {
		if b.spokenFor(t) || i < len(t.Legs) && !t.Legs[i].End.IsZero() {
			return
		}
		over = false
		c.doubt("core of piece %s was not seen to the end of it", t.Probe.Piece)
	})
	return over
}

// legVerdict does not call a leg missed when nobody saw it being missed: a core
// that fell silent inside its limit is not measured.
func (b *Batch) legVerdict(c *Clock, i int, t *Track, now time.Time) Verdict {
	if !c.To.IsZero() {
		return atMost(*c, b.lostInLeg(c, i))
	}
	seen := t.Last.At.Sub(c.From).Hours()
	if now.Sub(t.Last.At) > interpolable {
		c.doubt("core of piece %s not heard since it read %.1f °C", t.Probe.Piece, t.Last.Value)
	}
	switch {
	case seen > c.Limit:
		return NotMet
	case c.Sum > c.Limit && now.Sub(t.Last.At) > interpolable, !b.Open():
		return NotMeasured
	case c.Sum > c.Limit:
		return NotMet
	}
	return Running
}

// lostInLeg is by how much leg i of any core may have been longer than the clock says.
func (b *Batch) lostInLeg(c *Clock, i int) float64 {
	more := 0.0
	b.eachTrack(Core, func(t *Track) {
		if i >= len(t.Legs) || t.Legs[i].End.IsZero() {
			return
		}
		l := &t.Legs[i]
		if lost := b.lost(l.Start, l.End); lost > 0 {
			c.doubtLost(lost)
			more = max(more, l.hours(l.End)+lost-c.Sum)
		}
	})
	return more
}

func (b *Batch) slowestLeg(i int, now time.Time) *Track {
	var slowest *Track
	b.eachTrack(Core, func(t *Track) {
		if i >= len(t.Legs) || t.Legs[i].Start.IsZero() {
			return
		}
		if slowest == nil || t.Legs[i].hours(now) > slowest.Legs[i].hours(now) {
			slowest = t
		}
	})
	return slowest
}
