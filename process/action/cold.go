package action

import (
	"fmt"
	"time"

	"flitch/process"
)

// fridge is how far and how long a cold place was off its limit.
func (c Case) fridge(known map[string]string) {
	if c.rang() {
		known["limit"], known["peak"] = c.Words.Temp(c.Event.Limit), c.Words.Temp(c.Event.Worst)
		known["minutes"] = fmt.Sprintf("%.0f", c.until().Sub(c.from()).Minutes())
		known["hours"] = hours(c.until().Sub(c.from()))
	} else if k, ok := c.clock(c.About); ok && c.About == string(process.ClockCold) {
		known["limit"] = c.Words.Temp(c.Batch.Plan.Cold.AboveC)
		c.warmest(known, k)
	}
	c.cureDays(known)
}

// warmest is when, within a clock of cold, the product was above the limit first and last,
// for how many minutes of that, and its peak. Work by hand is in the clock and not in here.
func (c Case) warmest(known map[string]string, k process.Clock) {
	t := c.fridgeTrack()
	if t == nil {
		return
	}
	var first, last time.Time // above
	var before time.Time      // the reading before, if it was above
	minutes := 0.0
	peak, limit := 0.0, c.Batch.Plan.Cold.AboveC
	c.each(t.Probe.Probe, k.From, c.until(), func(at time.Time, v float64) {
		if v <= limit {
			before = time.Time{}
			return
		}
		if !before.IsZero() {
			minutes += at.Sub(before).Minutes()
		}
		before = at
		if first.IsZero() {
			first, peak = at, v
		}
		last, peak = at, max(peak, v)
	})
	if !first.IsZero() {
		known["minutes"] = fmt.Sprintf("%.0f", minutes)
		known["from"], known["to"], known["peak"] = c.at(first), c.at(last), c.Words.Temp(peak)
	}
}

func (c Case) fridgeTrack() *process.Track {
	if t := c.Batch.TrackOf(process.Product); t != nil {
		return t
	}
	return c.Batch.TrackOf(process.Air)
}

// cureDays are the days that passed in cure and were not earned, and the day on which the
// rule is met if the cure goes on at its own temperature.
func (c Case) cureDays(known map[string]string) {
	k, ok := c.clock(string(process.ClockCure))
	if !ok || k.From.IsZero() {
		return
	}
	end := c.Now
	if !k.To.IsZero() {
		end = k.To
	}
	const day = 24 * time.Hour
	known["uncounted"] = fmt.Sprintf("%.1f", max(0, end.Sub(k.From).Hours()/24-k.Sum))
	known["earliest"] = c.at(end.Add(time.Duration(max(0, k.Limit-k.Sum) * float64(day))))
}

// decision is what became of it, where that was said.
func (c Case) decision(known map[string]string) {
	for _, e := range c.Batch.Dispositions {
		if e.What == process.HoldForAdvice && known["held"] == "" {
			known["held"] = c.at(e.At)
		}
		known["decision"], known["who"], known["basis"] = string(e.What), e.By, e.Why
	}
}

// turn is how long it took to the turn that ended the alarm; without one the longest time
// between two turns, if that was too long.
func (c Case) turn(known map[string]string) {
	every := c.Batch.Plan.Turn.EveryHours
	if every > 0 {
		known["every"] = fmt.Sprintf("%.0f", every)
	}
	before, longest := c.Batch.Stages[0].Entered, time.Duration(0)
	for _, s := range c.Batch.Stages {
		if s.Name == process.StageCure {
			before = s.Entered
		}
	}
	for _, t := range c.Batch.Turns {
		if c.rang() && t.At.After(c.Event.Since) {
			longest = t.At.Sub(before)
			break
		}
		if !c.rang() {
			longest = max(longest, t.At.Sub(before))
		}
		before = t.At
	}
	if longest > 0 && (c.rang() || every > 0 && longest.Hours() > every) {
		known["hours"] = hours(longest)
	}
}

// dose is what was weighed for a piece, and when it was mended.
func (c Case) dose(known map[string]string) {
	bad := c.doseOf(c.piece(), false)
	if bad == nil {
		return
	}
	known["asked"], known["weighed"], known["ppm"] = fmt.Sprintf("%.1f", bad.AskedG), fmt.Sprintf("%.1f", bad.CureG), fmt.Sprintf("%.0f", bad.PPM)
	known["found"] = spanWords(bad.Typed.Sub(bad.At))
	switch mended := c.doseOf(c.piece(), true); {
	case mended != nil && mended != bad:
		known["redosed"] = c.at(mended.At)
	case c.undosed():
		known["redosed"] = c.at(bad.At)
	}
}

// doseOf is the first dose of a piece that fails its checks, else its first; with last its
// last.
func (c Case) doseOf(piece string, last bool) (found *process.DoseEntry) {
	for i := range c.Batch.Doses {
		e := &c.Batch.Doses[i]
		if !has(e.Pieces, piece) {
			continue
		}
		if last || found == nil || found.Answer() == process.Met && e.Answer() != process.Met {
			found = e
		}
	}
	return found
}

func has(pieces []string, piece string) bool {
	for _, p := range pieces {
		if p == piece {
			return true
		}
	}
	return false
}

func hours(d time.Duration) string { return fmt.Sprintf("%.1f", d.Hours()) }

func spanWords(d time.Duration) string {
	if d < 90*time.Minute {
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return hours(d) + " h"
}
