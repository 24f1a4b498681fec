package process

import (
	"time"

	"flitch/process/heat"
)

// fanSteps is how many temperatures on the way to the target a fan has.
const fanSteps = 8

// A CookFan is the way of the slowest core to its target, as far as the forecast knows
// it: for each temperature on the way, when.
type CookFan struct {
	Piece, Probe string
	At           time.Time // it is made of what was known then
	CoreC        float64   // then
	TargetC      float64
	ChamberC     float64 // it is for a chamber that stays so
	Steps        []FanStep
}

// A FanStep is when the core will be at one temperature; a zero time is not today.
type FanStep struct {
	C                 float64
	Low, Likely, High time.Time
}

// Fan is the fan of the forecast that Slowest gives; ok is false where that is.
func (f *CookForecasts) Fan(b *Batch) (CookFan, bool) {
	slowest, ok := f.Slowest(b)
	if !ok {
		return CookFan{}, false
	}
	for _, t := range b.Tracks {
		if t.Probe.Placement == Core && t.Probe.Piece == slowest.Piece && t.Watch != nil {
			fan := f.following(b, t).fanOf(&t.Watch.Course, slowest)
			fan.Probe = t.Probe.Probe
			return fan, len(fan.Steps) > 0
		}
	}
	return CookFan{}, false
}

// fanOf makes the fan, or gives the one of this minute again.
func (g *following) fanOf(course *Course, c CookForecast) CookFan {
	g.follow(course)
	asked := question{g.minutes, c.TargetC, g.asked.stalled}
	if g.fanned == asked {
		return g.fan
	}
	g.fanned = asked
	now := course.From.Add(time.Duration(g.minutes-1) * time.Minute)
	at := func(e heat.ETA) time.Time {
		if e.Never {
			return time.Time{}
		}
		return now.Add(time.Duration(e.Min * float64(time.Minute)))
	}
	g.fan = CookFan{Piece: c.Piece, At: now, TargetC: c.TargetC, ChamberC: c.ChamberC}
	bands := g.pieces.Fan(c.TargetC, c.ChamberC, fanSteps)
	for _, band := range bands {
		g.fan.Steps = append(g.fan.Steps, FanStep{C: band.C, Low: at(band.Early), Likely: at(band.Likely), High: at(band.Late)})
	}
	if len(bands) > 0 {
		first := bands[0].C
		g.fan.CoreC = (first*fanSteps - c.TargetC) / (fanSteps - 1) // the steps are even
	}
	return g.fan
}
