package action

import (
	"fmt"
	"strings"
	"time"

	"flitch/process"
)

// fire is what the core did while the chamber was lost, and its come-up.
func (c Case) fire(known map[string]string) {
	rule := c.Batch.Plan.ComeUp
	if rule.LimitHours > 0 {
		known["zone_low"], known["zone_high"] = c.Words.Temp(rule.FromC), c.Words.Temp(rule.ToC)
		known["zone"], known["limit_h"] = known["zone_low"]+" to "+known["zone_high"], fmt.Sprintf("%g", rule.LimitHours)
	}
	if k, ok := c.clock(string(process.ClockComeUp)); ok && !k.From.IsZero() {
		known["come_up"] = fmt.Sprintf("%.1f", k.Sum)
	}
	t := c.core()
	if t == nil || c.unheard() { // when was it lost?
		return
	}
	low, back, top := 0.0, 0.0, 0.0 // back: when it was lit again, so not while it stands
	first := true
	_, end := c.heated()
	c.each(t.Probe.Probe, c.from(), end, func(at time.Time, v float64) {
		if first {
			known["core_lost"], low, top, first = c.Words.Temp(v), v, v, false
		}
		top = max(top, v)
		if !at.After(c.until()) {
			low, back = min(low, v), v
		}
	})
	if !first {
		known["core_low"], known["reached"] = c.Words.Temp(low), c.Words.Temp(top)
	}
	if !first && !c.to().IsZero() {
		known["core_back"] = c.Words.Temp(back)
	}
}

// core is the track the case is about: of its piece, else the slowest.
func (c Case) core() *process.Track {
	for _, t := range c.Batch.Tracks {
		if t.Probe.Placement == process.Core && t.Probe.Piece == c.piece() {
			return t
		}
	}
	return c.Batch.SlowestCore()
}

// heat is how far the core came, how long it stayed within half a kelvin of that or above
// the target, and when that ended.
func (c Case) heat(known map[string]string) {
	for _, s := range c.Batch.Plan.Stages {
		if s.Heat && s.CoreC > 0 {
			known["target"] = c.Words.Temp(s.CoreC)
		}
	}
	t := c.core()
	if t == nil {
		return
	}
	type reading struct {
		at time.Time
		c  float64
	}
	var all []reading
	top := 0.0
	from, to := c.heated()
	if from.IsZero() {
		return
	}
	c.each(t.Probe.Probe, from, to, func(at time.Time, v float64) {
		all, top = append(all, reading{at, v}), max(top, v)
	})
	if len(all) == 0 {
		return
	}
	minutes, ended := 0.0, all[0].at
	for i := 1; i < len(all); i++ {
		if step := all[i].at.Sub(all[i-1].at); all[i].c >= top-0.5 && all[i-1].c >= top-0.5 {
			minutes, ended = minutes+step.Minutes(), all[i].at
		}
	}
	known["reached"], known["above"], known["ended"] = c.Words.Temp(top), fmt.Sprintf("%.0f", minutes), c.at(ended)
}

// heated is from the first heat stage to the end of the last.
func (c Case) heated() (from, to time.Time) {
	to = c.Now
	for _, e := range c.Batch.Stages {
		for _, s := range c.Batch.Plan.Stages {
			if s.Name != e.Name || !s.Heat {
				continue
			}
			if from.IsZero() {
				from = e.Entered
			}
			if to = e.Left; to.IsZero() {
				to = c.Now
			}
		}
	}
	return from, to
}

// second is the newest reading by hand of a core of the piece.
func (c Case) second(known map[string]string) {
	piece := c.piece()
	for _, h := range c.Batch.Hand {
		if h.Placement != process.Core || piece != "" && h.Piece != "" && h.Piece != piece {
			continue
		}
		known["by_hand"], known["thermometer"] = c.Words.Temp(h.Value), strings.TrimPrefix(h.Text, "with ")
	}
}

// hands are the readings by hand while nothing was heard.
func (c Case) hands(known map[string]string) {
	var list []string
	if c.unheard() { // not heard from when to when?
		return
	}
	for _, h := range c.Batch.Hand {
		if h.Placement.IsTemperature() && !h.At.Before(c.from()) && !h.At.After(c.until()) {
			list = append(list, c.at(h.At)+" "+string(h.Placement)+" "+c.Words.Temp(h.Value))
		}
	}
	known["hands"] = strings.Join(list, "; ")
}

// chill is how long the first two legs took, of the slowest core each.
func (c Case) chill(known map[string]string) {
	view, _ := c.Batch.Chill(c.Now)
	for i, l := range view.Legs {
		if i > 1 {
			break
		}
		end, name := l.End, string(rune('a'+i))
		if end.IsZero() {
			end = c.Now
		}
		known[name+"_from"], known[name+"_to"] = c.Words.Temp(l.FromC), c.Words.Temp(l.ToC)
		if l.AtOnce {
			known[name+"_from"] = "end of heat"
		}
		known[name+"_h"], known[name+"_limit"] = hours(end.Sub(l.Start)), hours(l.Limit.Sub(l.Start))+" h"
	}
}

// check is what a probe read when it failed, and its last good check.
func (c Case) check(known map[string]string) {
	for _, t := range c.Batch.Tracks {
		if !strings.Contains(c.Event.Subject, "probe "+t.Probe.Probe+" ") && c.Event.Subject != "probe "+t.Probe.Probe {
			continue
		}
		known["probe"] = t.Probe.Probe
		for _, k := range t.Checks {
			switch {
			case k.Good():
				known["good"] = c.at(k.At) + " (" + k.By + ")"
			default:
				known["read"], known["method"] = c.Words.Temp(k.ReadC), k.Method
				if k.Result != nil {
					known["batches"] = strings.Join(k.Result.Batches, ", ")
				}
			}
		}
	}
}

// each hands over readings, where there are any to have.
func (c Case) each(probe string, from, to time.Time, do func(time.Time, float64)) {
	if c.Readings != nil {
		c.Readings(probe, from, to, do)
	}
}
