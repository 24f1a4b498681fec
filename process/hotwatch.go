package process

import (
	"math"
	"time"

	"flitch/process/rules"
)

const (
	fireHotC     = 149.0            // °C, 300 °F: no smoker of the trade is meant to be hotter (alarm table H1)
	flareK       = 33.0             // K over the set point, 60 °F (alarm table H1)
	flarePerMin  = 11.0             // K/min for two minutes, 20 °F (alarm table H1)
	fallWindow   = 10 * time.Minute // of a falling core (alarm table H10)
	withChamberK = 2.0              // fall of the chamber that explains one of the core, K (proposal)
	dipK         = 10.0             // K of a chamber that a core follows later (proposal)
	dipWindow    = 50 * time.Minute // (proposal)
)

// findHot reports once a minute what the hot side looks like. A probe that is old,
// out or stuck makes its questions unknown; outside the heat they are over.
func (b *Batch) findHot(found []Finding) []Finding {
	stage := b.Stage()
	lit := b.Open() && stage.Where == WhereSmoker
	chamber := b.fresh(b.TrackOf(Chamber))
	found = b.findFlare(found)
	found = b.report(found, MeasureColdSmoke, lit && stage.Name == StageColdSmoke, chamber != nil, func() float64 { return chamber.Last.Value })
	heat := b.Open() && stage.Heat
	found = b.report(found, MeasureChamberOver, heat && stage.SetC > 0, chamber != nil, func() float64 { return chamber.Last.Value - stage.SetC })
	ambient := b.fresh(b.TrackOf(Ambient))
	found = b.report(found, MeasureNearAmbient, heat && b.Fire.Reached && b.TrackOf(Ambient) != nil, chamber != nil && ambient != nil,
		func() float64 { return chamber.Last.Value - ambient.Last.Value })
	found = b.report(found, MeasureLid, heat, chamber != nil, func() float64 { return yes(b.lidOpen()) })
	found = b.findTarget(found, heat && stage.CoreC > 0, stage.CoreC)
	found = b.findComeUp(found, heat)
	found = b.findMoist(found, heat, chamber)
	found = b.findCores(found, heat)
	return b.findNoChill(found)
}

// report adds a finding: over when the question does not apply, unknown when what it
// asks about is not known.
func (b *Batch) report(found []Finding, m Measure, applies, known bool, value func() float64) []Finding {
	return b.reportOf(found, m, b.Subject(), applies, known, value)
}

func (b *Batch) reportOf(found []Finding, m Measure, subject string, applies, known bool, value func() float64) []Finding {
	f := Finding{Measure: m, Subject: subject, At: b.Now}
	switch {
	case !applies:
		f.State = Over
	case !known:
		f.State = Unknown
	default:
		f.Value = value()
	}
	return append(found, f)
}

func yes(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// fresh is the track, or nil when it was not heard lately or does not speak for the
// meat.
func (b *Batch) fresh(t *Track) *Track {
	if t == nil || t.Old(b.Now) || t.Doubted() {
		return nil
	}
	return t
}

// quiet reports that nothing came from a probe for longer than it may be silent.
func (b *Batch) quiet(t *Track) bool { return b.Now.Sub(t.Heard) > t.Probe.allowed() }

// flare is how far the chamber is over what no smoker should reach, K: negative below it,
// FlareSure when it gets hotter as only a fire does.
func (b *Batch) flare(chamber *Track, stage StagePlan) float64 {
	v := chamber.Last.Value
	if chamber.Quick.At.After(chamber.Last.At) { // too fast for any sum, and a fire is fast
		v = max(v, chamber.Quick.Value)
	}
	over := v - fireHotC
	if stage.SetC > 0 {
		over = max(over, v-(stage.SetC+flareK))
	}
	if stage.SetC > 0 && v >= stage.SetC && risesAsFire(chamber.Recent.Samples) {
		return max(over, FlareSure)
	}
	return over
}

// FlareSure is the flare of a chamber that gets hotter as only a fire does, K; no limit
// that a house may have for its smoker comes near it.
const FlareSure = 1000.0

// risesAsFire reports two fast minutes one after the other.
func risesAsFire(samples []Sample) bool {
	n := len(samples)
	if n < 3 {
		return false
	}
	fast := func(a, b Sample) bool {
		minutes := b.At.Sub(a.At).Minutes()
		return minutes <= 2 && b.Value-a.Value >= flarePerMin*minutes
	}
	return fast(samples[n-3], samples[n-2]) && fast(samples[n-2], samples[n-1])
}

func (b *Batch) lidOpen() bool {
	t := b.firstWatched()
	return t != nil && t.Watch.Cook.Lid.Open
}

// lidLately reports whether the lid is open, or the chamber has been back for so short a
// time that the cores are still on their way back from it.
func (b *Batch) lidLately() bool {
	t := b.firstWatched()
	if t == nil || t.Watch.Cook.Lid.Kind == "" {
		return false
	}
	lid := t.Watch.Cook.Lid
	return lid.Open || minuteOf(b.Now)-lid.Cleared < afterLid.Minutes()
}

// findTarget reports how far the slowest core is from its target.
func (b *Batch) findTarget(found []Finding, applies bool, target float64) []Finding {
	slowest := b.fresh(b.slowestCore())
	found = b.report(found, MeasureCoreLeft, applies && !(slowest != nil && slowest.Last.Value >= target), slowest != nil, func() float64 { return target - slowest.Last.Value })
	hottest := b.hottestCore()
	return b.report(found, MeasureCoreOver, applies, hottest != nil, func() float64 { return hottest.Last.Value - target })
}

// hottestCore is the core that is farthest along, of those that speak for the meat.
func (b *Batch) hottestCore() (hottest *Track) {
	b.eachTrack(Core, func(t *Track) {
		if t = b.fresh(t); t != nil && (hottest == nil || t.Last.Value > hottest.Last.Value) {
			hottest = t
		}
	})
	return hottest
}

// flames reports that findFlare would.
func (b *Batch) flames() bool {
	chamber := b.fresh(b.TrackOf(Chamber))
	return chamber != nil && b.flare(chamber, b.Stage()) >= 0
}

// findFlare reports how near the chamber is to what only a fire makes of it: with each
// reading, for it waits for nothing.
func (b *Batch) findFlare(found []Finding) []Finding {
	stage, chamber := b.Stage(), b.fresh(b.TrackOf(Chamber))
	lit := b.Open() && stage.Where == WhereSmoker
	return b.report(found, MeasureFlare, lit, chamber != nil, func() float64 { return b.flare(chamber, stage) })
}

// findComeUp reports the hours of the come-up clock. From five hours on it tells them
// only when at its present rate the core will need more than the rule allows.
func (b *Batch) findComeUp(found []Finding, heat bool) []Finding {
	c, asked := b.comeUpClock()
	return b.report(found, MeasureComeUp, heat && asked && c.To.IsZero() && !c.From.IsZero(), b.fresh(b.slowestCore()) != nil, func() float64 {
		const ring = 5.0
		if c.Sum < ring || b.comeUpForecast(c) > c.Limit {
			return c.Sum
		}
		return ring - 0.01
	})
}

// comeUpForecast is how many hours the clock will have when the slowest core leaves the
// zone at its rate of the last twenty minutes.
func (b *Batch) comeUpForecast(c Clock) float64 {
	slowest := b.slowestCore()
	rate, ok := slowest.RatePerHour()
	left := b.Plan.ComeUp.ToC - slowest.Last.Value
	if left <= 0 {
		return c.Sum
	}
	if !ok || rate <= 0 {
		return math.Inf(1)
	}
	return c.Sum + left/rate
}

// findMoist reports by how much the air is drier than the plan's humidity option asks,
// while its clock runs: points of humidity, or kelvins of the wet bulb. A dry sock is
// as dry as can be.
func (b *Batch) findMoist(found []Finding, heat bool, chamber *Track) []Finding {
	option, ok := rules.Humidity(b.Plan.Humidity.Option)
	ok = ok && (option.LeastRH > 0 || option.LeastWetBulbC > 0)
	clock, _ := b.humidityClock()
	wet, rh := b.fresh(b.TrackOf(WetBulb)), b.fresh(b.TrackOf(Humidity))
	dry := b.drySock()
	known := dry || wet != nil && (option.LeastWetBulbC > 0 || chamber != nil) || rh != nil && option.LeastRH > 0
	return b.report(found, MeasureTooDry, heat && ok && (clock.Sum < option.LeastHours || option.WholeCook), known, func() float64 {
		switch {
		case dry:
			return SockDry
		case option.LeastWetBulbC > 0 && wet != nil:
			return option.LeastWetBulbC - wet.Last.Value
		case rh != nil:
			return option.LeastRH - rh.Last.Value
		}
		return option.LeastRH - wet.Moist.LastRH
	})
}

// findCores reports on each core, and on the two that differ most.
func (b *Batch) findCores(found []Finding, heat bool) []Finding {
	low, high, cores := math.Inf(1), math.Inf(-1), 0
	for _, t := range b.Tracks {
		if t.Probe.Placement == Chamber {
			found = b.reportOf(found, MeasureStuck, t.subject(b), heat, t.Samples > 0 && !b.quiet(t), func() float64 { return t.stuckFor(b.Now) })
		}
		if t.Probe.Placement != Core {
			continue
		}
		subject := t.subject(b)
		heard := t.Samples > 0 && b.Now.Sub(t.Heard) <= t.Probe.allowed()
		after := b.Open() && b.heated(b.Now)
		found = b.reportOf(found, MeasureProbeOut, subject, after && t.Watch != nil, heard, func() float64 { return yes(t.Watch.Cook.Out.Open) })
		found = b.reportOf(found, MeasureStuck, subject, heat && t.Watch != nil, heard, func() float64 { return t.stuckMinutes() })
		found = b.reportOf(found, MeasureCoreFall, subject, heat, heard && !t.Doubted(), func() float64 { return b.fall(t) })
		if heard && !t.Doubted() {
			low, high, cores = min(low, t.Last.Value), max(high, t.Last.Value), cores+1
		}
	}
	return b.report(found, MeasureCoreSpread, heat && cores > 1, true, func() float64 { return high - low })
}

// stuckMinutes is how long a stuck probe has read the same; 0 when it is not stuck.
func (t *Track) stuckMinutes() float64 {
	w := &t.Watch.Cook
	if !w.Flat.Open {
		return 0
	}
	return w.LastMin - w.Flat.From
}

// chamberDip reports whether the chamber was much colder not long ago than before: a
// lid, a fire fed. A core follows that for a while after the chamber is back.
func chamberDip(chamber *Track, now time.Time) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range chamber.Recent.since(now, dipWindow) {
		high = max(high, s.Value)
		if now.Sub(s.At) <= dipWindow/2 {
			low = min(low, s.Value)
		}
	}
	return high-low > dipK
}

// fall is by how much a core is under its highest of the last ten minutes, K; 0 when
// the chamber fell with it, or had fallen before.
func (b *Batch) fall(t *Track) float64 {
	top := t.Last.Value
	for _, s := range t.Recent.since(b.Now, fallWindow) {
		top = max(top, s.Value)
	}
	if chamber := b.fresh(b.TrackOf(Chamber)); chamber != nil {
		before, ok := chamber.Recent.before(b.Now, fallWindow)
		if ok && chamber.Last.Value < before.Value-withChamberK || chamberDip(chamber, b.Now) {
			return 0
		}
	}
	return top - t.Last.Value
}
