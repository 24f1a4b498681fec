package process

import "time"

// A core is water: it gets no hotter than water boils, and no hotter than the air that
// heats it. A reading that says so is left out. What says so for minutes is a probe that
// lies outside, or one whose readings are of another unit than was said.
const (
	boilingC   = 100.0           // at sea level; a plain fact
	aboveAirK  = 10 / 1.8        // over the hottest air seen, 10 °F: the job's table of faults
	outsideK   = 10.0            // the same, before all that the probe said is doubted: the probe of the chamber may hang in a colder corner (proposal)
	notCoreFor = 5 * time.Minute // together (proposal)
)

// aboveAir reports a core hotter than a core can be. The air is the hottest of the
// cook: meat stays warm when the fire goes out.
func (b *Batch) aboveAir(t *Track, s Sample) bool {
	if t.Probe.Placement != Core || !b.heated(s.At) {
		return false
	}
	coldest := s.Value - t.Uncertainty()
	return coldest > boilingC || b.Stage().Heat && coldest > b.hottestAir()+aboveAirK
}

// outside adds up for how long a core told of what no core can be.
func (t *Track) outside(s Sample, air float64) {
	before := t.Outside
	t.Outside = Sample{}
	if coldest := s.Value - t.Uncertainty(); coldest <= min(boilingC, air+outsideK) {
		return
	}
	t.Outside = s
	if apart := s.At.Sub(before.At); !before.At.IsZero() && apart <= t.Probe.allowed() {
		t.NotCore += apart
	}
}

// notCore reports whether what a core reads was no core's: then none of it helps.
func (t *Track) notCore() bool { return t.NotCore >= notCoreFor }

// hottestAir is the highest the chamber was seen at, °C; boiling when it was not watched
// without a gap, for then nobody knows.
func (b *Batch) hottestAir() float64 {
	hottest := 0.0
	for _, t := range b.Tracks {
		if t.Probe.Placement != Chamber {
			continue
		}
		if t.GapCount > 0 || t.Torn || b.head(t, func(p StagePlan) bool { return p.Heat }) > 0 {
			return boilingC
		}
		hottest = max(hottest, t.Hottest)
	}
	if hottest == 0 {
		return boilingC
	}
	return hottest
}
