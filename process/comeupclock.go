package process

import (
	"math"
	"time"

	"flitch/process/lethality"
)

// ComeUpSum is the time one core spent between the two temperatures of the
// come-up rule while heated.
type ComeUpSum struct {
	Minutes float64   `json:"minutes"`
	Near    float64   `json:"near,omitempty"` // minutes that would be within too if the probe is off by its uncertainty
	Began   time.Time `json:"began,omitzero"`
	Passed  time.Time `json:"passed,omitzero"` // upper temperature first passed
}

// add counts a part of a heat stage until the track's lethality row is met; a
// core that falls back before that goes on counting. A gap counts in full when
// the line between its ends touches the zone. What the uncertainty of the probe, K, adds
// at both ends of the zone is kept apart.
func (c *ComeUpSum) add(s span, rule ComeUpRule, uncertainty float64, done bool) {
	if !s.stage.Heat || done {
		return
	}
	minutes := minutesWithin(s.segment, rule.FromC, rule.ToC)
	c.Near += max(0, minutesWithin(s.segment, rule.FromC-uncertainty, rule.ToC+uncertainty)-minutes)
	if minutes > 0 && c.Began.IsZero() {
		c.Began = s.from
	}
	c.Minutes += minutes
	if s.v2 > rule.ToC && c.Passed.IsZero() {
		c.Passed = s.to
	}
}

func minutesWithin(s segment, low, high float64) float64 {
	if s.gap && s.warmer() >= low && min(s.v1, s.v2) <= high {
		return s.minutes()
	}
	return lethality.TimeWithin(s.v1, s.v2, s.minutes(), low, high)
}

// comeUpClock is the slowest core.
func (b *Batch) comeUpClock() (Clock, bool) {
	rule := b.Plan.ComeUp
	if rule.LimitHours == 0 {
		return Clock{}, false
	}
	c := Clock{Name: ClockComeUp, Rule: rule.Rule, Source: rule.Source, Limit: rule.LimitHours, Unit: "h"}
	var slowest *Track
	b.eachTrack(Core, func(t *Track) {
		if !t.ComeUp.Began.IsZero() && (slowest == nil || t.ComeUp.Minutes > slowest.ComeUp.Minutes) {
			slowest = t
		}
	})
	if slowest == nil {
		c.Verdict = b.unmeasuredUntil(heatOver)
		return c, true
	}
	c.Sum, c.From, c.To = slowest.ComeUp.Minutes/60, slowest.ComeUp.Began, slowest.ComeUp.Passed
	worst, near := 0.0, 0.0
	b.eachTrack(Core, func(t *Track) {
		c.Running = c.Running || t.Samples > 0 && t.ComeUp.Passed.IsZero() && b.Stage().Heat && b.Open()
		if !b.spokenFor(t) {
			near = max(near, t.ComeUp.Near/60)
			lost := b.lost(t.ComeUp.Began, t.ComeUp.Passed)
			c.doubtLost(lost)
			worst = max(worst, (t.ComeUp.Minutes+t.ComeUp.Near+b.unseenComeUp(t, rule))/60+lost)
		}
	})
	c.doubtNear(near, worst-c.Sum)
	c.Verdict = atMost(c, worst-c.Sum)
	return c, true
}

// unseenComeUp is the time in minutes that a core may have been between the two
// temperatures with nobody looking: at the end of the heat, and before it was first
// heard unless it was still colder then.
func (b *Batch) unseenComeUp(t *Track, rule ComeUpRule) float64 {
	if t.notCore() {
		return math.Inf(1)
	}
	before := b.head(t, func(p StagePlan) bool { return p.Heat })
	switch {
	case t.Samples == 0:
		return before
	case t.First.Value <= rule.FromC:
		before = 0
	}
	return before + b.blindHeat(t)
}

// heatOver and coldOver tell when a clock that has no data can no longer get any.
func heatOver(b *Batch) bool { return !b.Open() || b.heated(b.Now) && !b.Stage().Heat }

func (b *Batch) unmeasuredUntil(over func(*Batch) bool) Verdict {
	if over(b) {
		return NotMeasured
	}
	return Running
}

// blindHeat is the time in minutes that the heat stages had no believed core
// reading at their end.
func (b *Batch) blindHeat(t *Track) float64 {
	for i := len(b.Stages) - 1; i >= 0; i-- {
		e := b.Stages[i]
		if !b.Plan.stage(e.Name).Heat || e.Left.IsZero() {
			continue
		}
		if d := e.Left.Sub(t.Last.At); d > interpolable {
			return d.Minutes()
		}
		return 0
	}
	return 0
}
