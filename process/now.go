package process

import (
	"time"

	"flitch/process/rules"
)

// SlowestCore is the coldest core that is still heard, or nil.
func (b *Batch) SlowestCore() *Track { return b.slowestCore() }

// HottestCore is the core that is farthest along of those that speak for the meat, or
// nil.
func (b *Batch) HottestCore() *Track { return b.hottestCore() }

// Moist is what tells how moist the air of a cook is, and the least that the plan's
// option asks of it: a wet bulb in °C, or humidity in %. Nil: nothing tells, or nothing
// is asked of it.
func (b *Batch) Moist() (t *Track, least float64) {
	option, ok := rules.Humidity(b.Plan.Humidity.Option)
	if wet := b.TrackOf(WetBulb); ok && wet != nil && option.LeastWetBulbC > 0 {
		return wet, option.LeastWetBulbC
	}
	if rh := b.TrackOf(Humidity); ok && rh != nil && option.LeastRH > 0 {
		return rh, option.LeastRH
	}
	return nil, 0
}

// ProbeOf is the first probe of the placement that was ever heard in the place, or nil.
func (p *Place) ProbeOf(placement Placement) *PlaceProbe {
	for i := range p.Probes {
		if t := &p.Probes[i]; t.Probe.Placement == placement && !t.Last.At.IsZero() {
			return t
		}
	}
	return nil
}

// Old reports whether the newest value is older than the probe may be silent.
func (t *PlaceProbe) Old(now time.Time) bool { return now.Sub(t.Last.At) > t.Probe.allowed() }
