package process

import (
	"slices"
	"time"
)

// Clocks returns every clock the plan asks for, in the order of the trade, as of
// now.
func (b *Batch) Clocks(now time.Time) []Clock {
	if !b.Closed.IsZero() {
		now = b.Closed
	}
	var clocks []Clock
	add := func(c Clock, asked bool) {
		if asked {
			clocks = append(clocks, c)
		}
	}
	add(b.cureClock(now))
	add(b.turnClock(now))
	add(b.coldClock(now))
	add(b.fermentClock())
	add(b.comeUpClock())
	add(b.lethalityClock())
	add(b.humidityClock())
	for leg := range chillClocks {
		add(b.chillClock(leg, now))
	}
	add(b.dryingClock())
	add(b.keepClock(now))
	return clocks
}

// Verdict is the verdict on the batch: held when any limit or dose is not met, until a
// disposition ends that, then not met; not measured when one could not be judged or none
// was asked for, met when all are. The turn clock is a mark of quality and the keeping
// time a date: they hold nothing.
func (b *Batch) Verdict(now time.Time) Verdict {
	if len(b.Holds(now)) > 0 {
		return Held
	}
	if b.doseFailed() {
		return NotMet
	}
	verdict := NotMeasured
	clocks := slices.DeleteFunc(b.Clocks(now), func(c Clock) bool { return c.Name == ClockTurn || c.Name == ClockKeep })
	if len(clocks) > 0 {
		verdict = Met
	}
	for _, c := range clocks {
		switch {
		case c.Verdict == NotMet:
			return NotMet
		case c.Verdict == NotMeasured && verdict != Running:
			verdict = NotMeasured
		case c.Verdict == Running:
			verdict = Running
		}
	}
	return verdict
}
