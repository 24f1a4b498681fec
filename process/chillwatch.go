package process

import (
	"math"
	"time"

	"flitch/process/heat"
)

const (
	forecastEvery = time.Minute
	forecastFrom  = 0.4              // of the leg's time: alarm table L2
	forecastSure  = 0.1              // of it, when even the early end is late (proposal)
	fitWindow     = 40 * time.Minute // cook-cool-hold specification 3.2
	neverHours    = 24.0             // late by this much stands for "not in this air"; alarm table L2 knows it
)

// findChill reports the forecast of the running leg of one core, once a minute. In
// a rest of planned length nothing is forecast: the core is about to be moved.
func (b *Batch) findChill(t *Track, found []Finding) []Finding {
	stage := b.Stage()
	resting := stage.Where == WhereRoom && t.Last.At.Sub(b.StageEntered()) < hoursOf(stage.Hours)
	if stage.Heat || resting || !b.heated(t.Last.At) || !t.forecastDue() {
		return found
	}
	for i := range t.Legs {
		l := &t.Legs[i]
		if l.Start.IsZero() || !l.End.IsZero() {
			continue
		}
		f := Finding{Measure: MeasureChillLate, Subject: b.legSubject(i), At: t.Last.At, State: Unknown}
		if forecast, _, ok := b.legForecast(t, l); ok && l.worthTelling(forecast, t.Last.At) {
			f.State = Known
			f.Value = forecast.At.Sub(l.Start).Minutes() - l.MaxHours*60
		}
		return append(found, f)
	}
	return found
}

// worthTelling reports whether a forecast is old enough in its leg: from two fifths
// of its time on, or from a tenth when even its early end is too late.
func (l *Leg) worthTelling(f Forecast, now time.Time) bool {
	share := now.Sub(l.Start).Hours() / l.MaxHours
	sure := f.Low.After(l.Start.Add(hoursOf(l.MaxHours)))
	return share >= forecastFrom || sure && share >= forecastSure
}

// forecastDue is true for the samples kept in Recent, a minute apart.
func (t *Track) forecastDue() bool {
	n := len(t.Recent.Samples)
	return n > 0 && t.Recent.Samples[n-1].At.Equal(t.Last.At)
}

// A Forecast is when something is expected, with its 80 % interval.
type Forecast struct {
	At, Low, High time.Time
}

// legForecast returns when the leg will end at the air temperature of the place
// the core is in, for the core read high by the uncertainty of its probe. ok is
// false when that air is not known or the core does not yet fall steadily.
//
// airC is how cold the air would have to be for the leg to end in time, -infinite
// when no air is, NaN when nothing can be said.
func (b *Batch) legForecast(t *Track, l *Leg) (f Forecast, airC float64, ok bool) {
	air := b.airTrack()
	if air == nil {
		return Forecast{}, math.NaN(), false
	}
	around := air.Recent.curve(t.Last.At)
	cooling, steady, ok := heat.FitCooling(t.Recent.curve(t.Last.At), around)
	crossing, reachable := cooling.Crossing(l.ToC - t.Uncertainty())
	if airC = math.NaN(); ok && steady {
		airC = cooling.AirNeeded(l.ToC-t.Uncertainty(), l.MaxHours-l.hours(t.Last.At))
	}
	if ok && !reachable || tooWarm(around, l.ToC-t.Uncertainty()) {
		never := l.Start.Add(hoursOf(l.MaxHours + neverHours))
		return Forecast{never, never, never}, airC, true
	}
	if !ok || !steady {
		return Forecast{}, math.NaN(), false
	}
	early, late := crossing.Interval()
	return Forecast{t.Last.At.Add(hoursOf(crossing.Hours)), t.Last.At.Add(hoursOf(early)), t.Last.At.Add(hoursOf(late))}, airC, true
}

// tooWarm reports whether the whole window of the air is too warm for a core ever
// to reach the limit in it, whether or not the core is falling now.
func tooWarm(air []heat.Sample, limit float64) bool {
	for _, s := range air {
		if s.C < limit-heat.HopelessK {
			return false
		}
	}
	return len(air) > 0 && air[len(air)-1].Min-air[0].Min >= 10 // minutes of it, at least
}

func hoursOf(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// airTrack returns the probe that tells the air around a chilling core: the air
// of the fridge or its slow sensor, or the room. nil where nothing tells.
func (b *Batch) airTrack() *Track {
	stage := b.Stage()
	placements := []Placement{Air, Product}
	if stage.Where == WhereRoom {
		placements = []Placement{Ambient}
	}
	for _, p := range placements {
		if tracks := b.speaking(p, stage.Name); len(tracks) > 0 {
			return tracks[0]
		}
	}
	return nil
}

// curve is the window of a forecast, in minutes before now.
func (r *Recent) curve(now time.Time) []heat.Sample {
	window := r.since(now, fitWindow)
	out := make([]heat.Sample, len(window))
	for i, s := range window {
		out[i] = heat.Sample{Min: s.At.Sub(now).Minutes(), C: s.Value}
	}
	return out
}

// findLegs reports each leg that is over its time, or that ended within it.
func (b *Batch) findLegs(found []Finding) []Finding {
	for i := range chillClocks {
		t := b.slowestLeg(i, b.Now)
		if t == nil {
			continue
		}
		l := &t.Legs[i]
		f := Finding{Measure: MeasureChillOver, Subject: b.legSubject(i), At: b.Now,
			Value: (l.hours(b.Now) - l.MaxHours) * 60}
		if !b.Open() {
			f.State = Over
		}
		found = append(found, f)
		if !l.End.IsZero() || !b.Open() {
			found = append(found, Finding{Measure: MeasureChillLate, Subject: b.legSubject(i), At: b.Now, State: Over})
		}
	}
	return found
}

func (b *Batch) legSubject(i int) string { return ChillName(i) + " of batch " + b.ID }
