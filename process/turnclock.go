package process

import "time"

// sinceTurn returns the hours since the least recently turned piece was turned.
func (b *Batch) sinceTurn(now time.Time) float64 { return now.Sub(b.TurnedAt()).Hours() }

// turnClock holds the longest time any piece lay unturned during the cure. It is
// a mark of quality, not a limit on the product.
func (b *Batch) turnClock(now time.Time) (Clock, bool) {
	entry, begun := b.entry(StageCure)
	if b.Plan.index(StageCure) < 0 || b.Plan.Turn.LimitHours == 0 {
		return Clock{}, false
	}
	c := Clock{Name: ClockTurn, Rule: b.Plan.Turn.Rule, Source: b.Plan.Turn.Source, Limit: b.Plan.Turn.LimitHours,
		Unit: "h", From: entry.Entered, To: entry.Left, Running: begun && entry.Left.IsZero()}
	if !begun {
		return c, true
	}
	if entry.passedBy() {
		c.Verdict = NotMeasured
		return c, true
	}
	end := entry.Left
	if c.Running {
		end = now
	}
	for _, p := range b.Pieces {
		c.Sum = max(c.Sum, b.longestUnturned(p.Name, entry.Entered, end).Hours())
	}
	c.Verdict = atMost(c, 0)
	return c, true
}

// longestUnturned walks the turns in the order they happened. They are kept in
// that order by apply.
func (b *Batch) longestUnturned(piece string, from, to time.Time) time.Duration {
	longest := time.Duration(0)
	last := from
	for _, t := range b.Turns {
		if !t.covers(piece) || t.At.Before(from) || t.At.After(to) {
			continue
		}
		longest = max(longest, t.At.Sub(last))
		last = t.At
	}
	return max(longest, to.Sub(last))
}
