package app

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// lookCloser finds what asks for a look before any alarm does: a needed number that is
// old, so that nothing is called fine that nobody sees, something that is overdue, or a
// limit that was not met and about which nobody has decided.
func (g glancer) lookCloser(out *web.Glance) {
	if t, since := g.unheard(); t != nil {
		out.State, out.Since = web.Look, since
		out.Why = fmt.Sprintf("no reading of %s since %s", g.named(t), g.clock(since))
		return
	}
	if n := out.Next; n != nil && !n.By.IsZero() && n.By.Before(g.now) {
		out.State, out.Since, out.Why = web.Look, n.By, "overdue: "+n.What
		return
	}
	if open := g.batch.Undecided(g.now); len(open) > 0 {
		out.State, out.Why = web.Look, "held, and nobody has said what becomes of it: "+strings.Join(open, ", ")
	}
}

// clock leaves the day out when it is today.
func (g glancer) clock(at time.Time) string {
	today, day := g.site.Local(g.now), g.site.Local(at)
	if today.Year() == day.Year() && today.YearDay() == day.YearDay() {
		return day.Format("15:04 MST")
	}
	return g.site.Short(at)
}

// unheard is the probe the batch needs now that has been silent for longest beyond what it
// may, and since when it, or the stage, was last heard of.
func (g glancer) unheard() (worst *process.Track, since time.Time) {
	for _, t := range g.batch.Tracks {
		if !g.needs(t) {
			continue
		}
		at := t.Last.At
		if entered := g.batch.StageEntered(); at.Before(entered) {
			if g.now.Sub(entered) <= max(3*t.Probe.Interval, 5*time.Minute) {
				continue // it was not wanted before
			}
			if at.IsZero() {
				at = entered
			}
		}
		if t.Old(g.now) && (worst == nil || at.Before(since)) {
			worst, since = t, at
		}
	}
	return worst, since
}

// needs reports whether the stage is judged by the probe. The air of a fridge is not
// where a slow sensor is; a core is nobody's who carries its readings home in a file.
func (g glancer) needs(t *process.Track) bool {
	if _, to, ok := g.batch.Wanted(t); !ok || !to.IsZero() || t.Probe.ReadOut {
		return false
	}
	stage := g.batch.Stage()
	switch t.Probe.Placement {
	case process.Product:
		return true
	case process.Air:
		return !slices.ContainsFunc(g.batch.Tracks, func(o *process.Track) bool {
			return o.Probe.Placement == process.Product && o.Probe.Place == t.Probe.Place
		})
	case process.Chamber:
		return stage.Heat || stage.Name == process.StageColdSmoke
	case process.Core:
		return stage.Heat || stage.Name == process.StageChill
	}
	return false
}

// named is what a probe tells of, in the words of the trade.
func (g glancer) named(t *process.Track) string {
	switch t.Probe.Placement {
	case process.Core:
		return "the core of slab " + t.Probe.Piece
	case process.Chamber:
		return "the chamber of " + t.Probe.Place
	}
	return "the fridge " + t.Probe.Place
}

// lastOf is when the silent probe that an alarm is about was last believed; zero: not
// known, or it is heard again and the alarm about to end.
func (g glancer) lastOf(subject string) time.Time {
	_, rest, _ := strings.Cut(subject, "probe ")
	name, _, _ := strings.Cut(rest, " of ")
	for _, t := range g.batch.Tracks {
		if t.Probe.Probe == name && t.Old(g.now) {
			return t.Last.At
		}
	}
	return time.Time{}
}

// wood is when wood was last added, by what people said.
func (g glancer) wood() *web.Wood {
	stage := g.batch.Stage()
	if stage.Where != process.WhereSmoker {
		return nil
	}
	w := &web.Wood{}
	if n, ok := g.batch.WoodAdded(); ok {
		w.Last, w.By = n.At, n.By
	}
	if f, ok := g.cooks.slowest(g.batch); ok && f.At.After(g.now) {
		w.Ends = f.At.Sub(g.now)
	}
	return w
}

// passes is when the slowest core will be through the zone of the come-up rule, read off
// between two steps of the fan; ok is false when it is through, or that is not on its way.
func (g glancer) passes() (web.Forecast, bool) {
	to := g.batch.Plan.ComeUp.ToC
	fan, ok := g.cooks.fan(g.batch)
	if !ok || to == 0 || fan.CoreC >= to || fan.TargetC <= to {
		return web.Forecast{}, false
	}
	from := process.FanStep{C: fan.CoreC, Low: fan.At, Likely: fan.At, High: fan.At}
	for _, s := range fan.Steps {
		if s.C < to {
			from = s
			continue
		}
		if s.Likely.IsZero() || from.Likely.IsZero() || s.C <= from.C {
			return web.Forecast{}, false
		}
		share := (to - from.C) / (s.C - from.C)
		between := func(a, b time.Time) time.Time {
			if a.IsZero() || b.IsZero() {
				return time.Time{}
			}
			return a.Add(time.Duration(share * float64(b.Sub(a))))
		}
		return web.Forecast{What: "last core, slab " + fan.Piece + ", passes " + g.site.Temp(to),
			At: between(from.Likely, s.Likely), Low: between(from.Low, s.Low), High: between(from.High, s.High), Open: s.High.IsZero()}, true
	}
	return web.Forecast{}, false
}
