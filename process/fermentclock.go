package process

import (
	"fmt"
	"slices"

	"flitch/process/growth"
	"flitch/process/rules"
)

// FermentRule limits the degree-hours of a fermented sausage until its pH is down.
type FermentRule struct {
	Limit  string      `json:"limit,omitempty" toml:"limit"`   // "us" or "canada", in process/rules
	Stages []StageName `json:"stages,omitempty" toml:"stages"` // in which it ferments
	Rule   string      `json:"rule,omitempty" toml:"rule"`
	Source string      `json:"source,omitempty" toml:"source"`
}

// ferment counts a part of a segment of the chamber, in the unit of the rule, at the
// warm end of the probe's uncertainty.
func (r FermentRule) ferment(d *growth.DegreeHours, s span, uncertainty float64) {
	limit, ok := rules.DegreeHours(r.Limit)
	if !ok || !slices.Contains(r.Stages, s.stage.Name) {
		return
	}
	unit := func(c float64) float64 {
		if limit.Unit == "F" {
			return c*1.8 + 32
		}
		return c
	}
	d.Add(limit.Base, unit(s.v1+uncertainty), unit(s.v2+uncertainty), s.minutes()/60, s.bridge())
}

// fermented takes a pH that a person measured.
func (b *Batch) fermented(ph float64) {
	b.eachTrack(Chamber, func(t *Track) { t.Ferment.PH(ph) })
}

// fermentClock is the warmest chamber probe.
func (b *Batch) fermentClock() (Clock, bool) {
	rule, ok := rules.DegreeHours(b.Plan.Ferment.Limit)
	if !ok {
		return Clock{}, false
	}
	c := Clock{Name: ClockFerment, Rule: b.Plan.Ferment.Rule, Source: b.Plan.Ferment.Source, Unit: "°" + rule.Unit + "·h"}
	warmest := b.warmestFerment()
	over := b.stagesOver(b.Plan.Ferment.Stages)
	if warmest == nil {
		c.Limit = rule.Limit(0).Limit
		if over {
			c.Verdict = NotMeasured
		}
		return c, true
	}
	sum := warmest.Ferment
	limit := rule.Limit(sum.Highest)
	c.Limit, c.Sum, c.Running = limit.Limit, sum.Sum, !sum.Ended && !over
	c.Rule = fmt.Sprintf("%s; the room was at most %.1f °%s: %.0f", c.Rule, sum.Highest, rule.Unit, limit.Limit)
	if sum.GapSum > 0 {
		c.doubt("no data for %s: counted at its warmest", hoursText(sum.GapHours))
	}
	unseen := b.fermentedFor() - sum.Hours
	if unseen <= interpolable.Hours() {
		unseen = 0
	} else {
		c.doubt("no data for %s at the beginning or the end", hoursText(unseen))
	}
	lost := b.fermentLost()
	c.doubtLost(lost)
	unseen += lost
	c.Verdict = atMost(c, unseen*max(0, sum.Highest-rule.Base))
	if c.Verdict == Met && !sum.Ended {
		c.doubt("a pH of %.1f or less was not measured", growth.EndPH)
		c.Verdict = NotMeasured
	}
	return c, true
}

// fermentLost is what was lost while it fermented, h.
func (b *Batch) fermentLost() float64 {
	for _, e := range b.Stages {
		if slices.Contains(b.Plan.Ferment.Stages, e.Name) {
			return b.lostCold(e.Entered, e.Entered.Add(hoursOf(b.fermentedFor())))
		}
	}
	return 0
}

// fermentedFor is how long it fermented, in hours: until its pH was seen down.
func (b *Batch) fermentedFor() float64 {
	until := b.Now
	for _, h := range b.Hand {
		var down growth.DegreeHours
		if h.Placement == PH && down.PH(h.Value) && h.At.Before(until) {
			until = h.At
		}
	}
	return b.spent(until, func(p StagePlan) bool { return slices.Contains(b.Plan.Ferment.Stages, p.Name) }).Hours()
}

func (b *Batch) warmestFerment() *Track {
	var warmest *Track
	b.eachTrack(Chamber, func(t *Track) {
		if t.Ferment.Begun && (warmest == nil || t.Ferment.Sum > warmest.Ferment.Sum) {
			warmest = t
		}
	})
	return warmest
}

// stagesOver reports whether the last of the stages was left, or the batch is closed.
func (b *Batch) stagesOver(names []StageName) bool {
	over := !b.Open()
	for _, e := range b.Stages {
		if slices.Contains(names, e.Name) {
			over = !e.Left.IsZero()
		}
	}
	return over
}
