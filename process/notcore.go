package process

import "time"

// A core is water: it gets no hotter than water boils, and no hotter than the air that
// heats it. What says so for minutes is a probe that lies outside, or one whose
// readings are of another unit than was said.
const (
	boilingC   = 100.0           // at sea level; a plain fact
	outsideK   = 10.0            // over the hottest air seen: the probe of the chamber may hang in a colder corner (proposal)
	notCoreFor = 5 * time.Minute // together (proposal)
)

// doubtCore adds up how long a core told of what no core can be.
func (b *Batch) doubtCore(t *Track, s span) {
	if s.gap {
		return
	}
	coldest := min(s.v1, s.v2) - t.Uncertainty()
	if coldest > boilingC || s.stage.Heat && coldest > b.hottestAir()+outsideK {
		t.NotCore += s.to.Sub(s.from)
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
