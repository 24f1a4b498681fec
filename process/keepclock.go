package process

import (
	"slices"
	"time"
)

// KeepRule says how long packed product is kept, from the day it is packed.
type KeepRule struct {
	Days   float64 `json:"days,omitempty" toml:"days"`
	Rule   string  `json:"rule,omitempty" toml:"rule"`
	Source string  `json:"source,omitempty" toml:"source"`
}

// packed returns when the batch was packed, or stored without that.
func (b *Batch) packed() (at time.Time, ok bool) {
	for _, name := range []StageName{StagePack, StageStore} {
		if e, entered := b.entry(name); entered {
			return e.Entered, true
		}
	}
	return time.Time{}, false
}

// packedAfterHeat reports whether cooked meat was in its packs at a time. Then no probe
// is in it any more: the same one may be in the next batch, which cooks.
func (b *Batch) packedAfterHeat(at time.Time) bool {
	since, packed := b.packed()
	return packed && !at.Before(since) && b.heated(at)
}

// keepClock is the time since the batch was packed. It is a date for the label, and
// holds nothing.
func (b *Batch) keepClock(now time.Time) (Clock, bool) {
	rule := b.Plan.Keep
	at, packed := b.packed()
	if rule.Days == 0 {
		return Clock{}, false
	}
	c := Clock{Name: ClockKeep, Rule: rule.Rule, Source: rule.Source, Limit: rule.Days, Unit: "d"}
	if !packed {
		return c, true
	}
	c.From, c.Sum, c.Running = at, now.Sub(at).Hours()/24, b.Open()
	c.Verdict = atMost(c, 0)
	return c, true
}

// findKeep reports the days left to keep packed product, and the pieces that were not
// there when they were counted after the heat, or into or out of any stage.
func (b *Batch) findKeep(found []Finding) []Finding {
	at, packed := b.packed()
	found = b.report(found, MeasureKeepLeft, b.Open() && packed && b.Plan.Keep.Days > 0, true,
		func() float64 { return b.Plan.Keep.Days - b.Now.Sub(at).Hours()/24 })
	i := len(b.Counts) - 1
	_, after := b.Plan.AroundHeat()
	counted := i >= 0 && (slices.Contains(after, b.Counts[i].Stage) || b.Counts[i].Way != "")
	return b.report(found, MeasureMissing, b.Open() && counted, true, func() float64 { return float64(len(b.Pieces) - b.Counts[i].Pieces) })
}
