package engine

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"

	"flitch/process"
)

// ReportClock stores what happened to the clock of the machine, and whether people are to be
// told. Open batches have to know: what was measured across a step is a gap.
func (e *Engine) ReportClock(ctx context.Context, w process.ClockWord, doubted bool) error {
	c := process.Command{ID: rand.Text(), Kind: process.CommandFault, By: "flitch", Text: FaultClock, At: w.From, Clock: &w}
	if doubted {
		c.Value = 1
	}
	return e.Do(ctx, c)
}

// takeClock tells every open batch. Each step is a line of the journal; the alarm of the
// clock stands for all of them.
func (h *House) takeClock(in process.Input) {
	w := in.Command.Clock
	h.clock = w
	h.pending.note(process.JournalLine{At: in.At, Kind: "clock", By: "flitch", Text: clockText(*w, time.UTC)})
	for _, p := range h.places {
		h.stepPlace(p, in)
	}
	for _, b := range h.open {
		h.stepBatch(b, in)
	}
}

// clockDetails say what the clock did, on the clocks of the people.
func (h *House) clockDetails() []string {
	if h.clock == nil {
		return nil
	}
	zone := h.policy.Location
	if zone == nil {
		zone = time.UTC
	}
	return []string{clockText(*h.clock, zone)}
}

// clockText is what happened in one sentence.
func clockText(w process.ClockWord, zone *time.Location) string {
	const form = "2006-01-02 15:04:05 -07:00"
	from, to := w.From.In(zone).Format(form), w.To.In(zone).Format(form)
	by := w.To.Sub(w.From).Round(time.Second)
	switch w.Kind {
	case process.ClockUnset:
		return fmt.Sprintf("flitch started at what the clock of the machine calls %s; that cannot be, so it counts on from %s, the newest time that is stored. How long it was off is not known until the clock is set.", to, from)
	case process.ClockFollowed:
		return fmt.Sprintf("The clock stepped from %s to %s (%v), and flitch with it: the time between counts as not measured.", from, to, by)
	case process.ClockRefused:
		return fmt.Sprintf("The clock stepped to %s. flitch does not follow and counts on from %s: its times differ from the clock by %v.", to, from, by)
	}
	return fmt.Sprintf("The clock and flitch agree again, at %s.", to)
}
