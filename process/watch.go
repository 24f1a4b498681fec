package process

import (
	"time"

	"flitch/ingest/signal"
)

// Fire is what the chamber has done in the present stage.
type Fire struct {
	Reached bool `json:"reached"` // the set point was reached once
}

const (
	reachedK    = 3.0              // within this of the set point counts as reached, K (proposal)
	recoveringK = 1.0              // rise in recoverIn that counts as coming back, K (proposal)
	recoverIn   = 5 * time.Minute  // (proposal)
	afterLid    = 20 * time.Minute // after the chamber is back, in which a core may still be on its way (proposal)
	riseK       = 1.0              // a core that is up by this has risen, K: alarm table H5, 2 °F in 45 min
)

// findReading reports what the newest reading of track t changed, if it was counted. Of
// one that came too fast a chamber tells only of flames: they would not wait.
func (b *Batch) findReading(t *Track, counted bool, found []Finding) []Finding {
	switch {
	case !counted && t.Doubt == signal.Rate && t.Probe.Placement == Chamber && b.flames():
		return b.findFlare(found)
	case !counted:
		return found
	}
	switch t.Probe.Placement {
	case Chamber:
		return b.findFlare(b.findFire(t, found))
	case Core:
		return b.findChill(t, b.findCore(found))
	}
	return found
}

// findAll reports everything that time or a person may have changed.
func (b *Batch) findAll(found []Finding) []Finding {
	found = b.findDoses(b.findTurn(found))
	found = b.findSilence(found)
	if !b.Open() || !b.Stage().Heat {
		found = b.over(found, MeasureChamberDeficit)
		found = b.over(found, MeasureNoRise)
		found = b.over(found, MeasureCoreHeld)
	}
	return b.findLegs(found)
}

func (b *Batch) over(found []Finding, m Measure) []Finding {
	return append(found, Finding{Measure: m, Subject: b.Subject(), At: b.Now, State: Over})
}

func (b *Batch) findTurn(found []Finding) []Finding {
	if !b.Open() || b.Stage().Name != StageCure || b.Plan.Turn.EveryHours == 0 {
		return b.over(found, MeasureTurn)
	}
	return append(found, Finding{Measure: MeasureTurn, Subject: b.Subject(), At: b.Now, Value: b.sinceTurn(b.Now)})
}

// findFire reports how far the chamber is under its set point once it was there.
// While it is coming back the question rests: nothing is raised and nothing
// cleared.
func (b *Batch) findFire(t *Track, found []Finding) []Finding {
	stage := b.Stage()
	if !stage.Heat || stage.SetC == 0 {
		return found
	}
	if t.Last.Value >= stage.SetC-reachedK {
		b.Fire.Reached = true
	}
	if !b.Fire.Reached {
		return found
	}
	f := Finding{Measure: MeasureChamberDeficit, Subject: b.Subject(), At: t.Last.At, Value: stage.SetC - t.Last.Value}
	earlier, ok := t.Recent.before(t.Last.At, recoverIn)
	if ok && t.Last.Value > earlier.Value+recoveringK && f.Value > reachedK {
		f.State = Unknown
	}
	return append(found, f)
}

// findCore reports on the slowest core in a heat stage.
func (b *Batch) findCore(found []Finding) []Finding {
	stage := b.Stage()
	slowest := b.slowestCore()
	if !stage.Heat || slowest == nil {
		return found
	}
	if stage.CoreC == 0 {
		return found
	}
	held := Finding{Measure: MeasureCoreHeld, Subject: b.Subject(), At: slowest.Last.At}
	rise := Finding{Measure: MeasureNoRise, Subject: b.Subject(), At: slowest.Last.At}
	if slowest.Last.Value >= stage.CoreC {
		rise.State = Over
		if b.lethalMet() {
			held.Value = 1
		}
	} else if rise.Value = slowest.Recent.sinceRise(later(b.StageEntered(), b.Jumped)).Minutes(); b.lidLately() {
		rise.State = Unknown // it fell by the lid, and is on its way back
	}
	return append(found, held, rise)
}

// slowestCore returns the coldest core that is still heard.
func (b *Batch) slowestCore() *Track {
	var slowest *Track
	for _, t := range b.Tracks {
		if t.Probe.Placement != Core || t.Samples == 0 || b.Now.Sub(t.Heard) > interpolable {
			continue
		}
		if slowest == nil || t.Last.Value < slowest.Last.Value {
			slowest = t
		}
	}
	return slowest
}

// sinceRise returns how long ago the value was lower than now by riseK. It looks
// back no further than from, nor than what is kept.
func (r *Recent) sinceRise(from time.Time) time.Duration {
	n := len(r.Samples)
	if n == 0 {
		return 0
	}
	now, i := r.Samples[n-1], n-1
	for i > 0 && r.Samples[i].Value > now.Value-riseK {
		i--
	}
	for i < n-1 && r.Samples[i].At.Before(from) {
		i++
	}
	return now.At.Sub(r.Samples[i].At)
}

// findSilence reports, for each probe that a cook needs, how much longer it has
// been silent than it may be, in minutes; negative while all is well.
func (b *Batch) findSilence(found []Finding) []Finding {
	for _, t := range b.Tracks {
		if t.Probe.ReadOut || t.Probe.Placement != Chamber && t.Probe.Placement != Core {
			continue
		}
		f := Finding{Measure: MeasureSilenceHot, Subject: t.subject(b), At: b.Now, State: Over}
		if b.Open() && b.Stage().Heat {
			f.State = Known
			f.Value = (t.silence(b.Now, b.StageEntered()) - t.Probe.allowed()).Minutes()
		}
		found = append(found, f)
		found = t.Absent.find(found, MeasureGoneHot, f, t.GoodRun)
	}
	return found
}

// FindUnwatched reports how long each cold probe of the batch has been silent, in minutes, that no
// place has any more: places look after their own, and somebody gave this one another name, or took it
// out of the configuration.
func (b *Batch) FindUnwatched(found []Finding, watched func(probe string) bool) []Finding {
	for _, t := range b.Tracks {
		if t.Probe.ReadOut || t.Probe.Placement != Product && t.Probe.Placement != Air {
			continue
		}
		f := Finding{Measure: MeasureSilenceCold, Subject: t.subject(b), At: b.Now, State: Over}
		if b.Open() && !b.Stage().Heat && !watched(t.Probe.Probe) {
			f.State, f.Value = Known, b.Now.Sub(later(t.Heard, b.Started)).Minutes()
		}
		found = append(found, f)
	}
	return found
}

func (t *Track) subject(b *Batch) string { return "probe " + t.Probe.Probe + " of batch " + b.ID }
