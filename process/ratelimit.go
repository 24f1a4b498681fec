package process

import (
	"math"
	"time"

	"flitch/ingest/signal"
	"flitch/process/heat"
)

// The quickest meat there is, for the ceiling of a core's rate: lean, in moving moist air
// while it is heated, in stirred ice water while it is chilled.
const (
	quickK           = 0.48    // W/(m K), and
	quickDiffusivity = 1.36e-7 // m²/s, of lean ham (process/heat)
	quickHeatH       = 20.0    // W/(m² K): the most that is usual for air (process/heat)
	quickChillH      = 500.0   // W/(m² K), stirred water (common practice, no source)
	driveStepK       = 10.0    // the difference to the air is rounded up to this, K, so that the limit is computed seldom
	icyC             = 0.0     // °C of ice water
	leastThickMM     = 2.0     // thinner is no piece, but stands for a size that nobody gave
	shortestMemory   = heat.HastyMin * time.Minute
)

// A rateLimit is a computed one, and what it was computed for.
type rateLimit struct {
	driveK float64
	heated bool
	perMin float64
}

// rateLimit is how fast the probe's placement can change, K/min; 0 is not tested. A core
// of known size: twice the ceiling of its physics, at least 0.5 (heat.Body.RateMax).
func (b *Batch) rateLimit(t *Track) float64 {
	if t.Probe.Placement != Core {
		return signal.RateLimit(string(t.Probe.Placement))
	}
	body, known := b.body(t)
	if !known {
		return signal.RateLimit(string(Core))
	}
	heated := b.Stage().Heat
	drive := math.Ceil(max(b.driveK(t, body), driveStepK)/driveStepK) * driveStepK
	if t.limit.perMin == 0 || t.limit.driveK != drive || t.limit.heated != heated {
		t.limit = rateLimit{driveK: drive, heated: heated, perMin: signal.RateLimit(string(Core))}
		if perMin, ok := body.RateMax(drive); ok {
			t.limit.perMin = perMin
		}
	}
	return t.limit.perMin
}

// body is the piece that a core is in. known is false when nobody gave its size.
func (b *Batch) body(t *Track) (body heat.Body, known bool) {
	for _, p := range b.Pieces {
		if p.Name != t.Probe.Piece && len(b.Pieces) > 1 || p.ThicknessMM < leastThickMM {
			continue
		}
		body = heat.Body{Shape: heatShape(b.Plan.Cure.Shape), LengthM: p.ThicknessMM / 2000, H: quickHeatH, K: quickK, Diffusivity: quickDiffusivity}
		if !b.Stage().Heat {
			body.H = quickChillH
		}
		return body, true
	}
	return heat.Body{}, false
}

func heatShape(name string) heat.Shape {
	switch name {
	case "cylinder":
		return heat.Cylinder
	case "sphere":
		return heat.Sphere
	}
	return heat.Slab
}

// driveK is the greatest difference between the core and what surrounds it that the core
// can still feel, K: of the time in which heat goes through the piece, or of all when
// that is longer than what is kept.
func (b *Batch) driveK(t *Track, body heat.Body) float64 {
	memory := max(time.Duration(body.MemoryMin()*float64(time.Minute)), shortestMemory)
	low, high := t.Recent.extremes(b.Now, memory, t.First.Value, t.Lethal.Highest)
	if !b.Stage().Heat {
		return high - icyC
	}
	hottest := math.Inf(-1)
	b.eachTrack(Chamber, func(c *Track) {
		_, warm := c.Recent.extremes(b.Now, memory, c.Hottest, c.Hottest)
		hottest = max(hottest, warm)
	})
	if t := b.TrackOf(Chamber); t == nil || t.Old(b.Now) { // nobody knows
		hottest = max(hottest, b.Stage().SetC, boilingC)
	}
	return hottest - low
}

// extremes are the lowest and highest samples since then. When that is farther back than
// what is kept, those before it may have been as low and as high as is said.
func (r *Recent) extremes(now time.Time, d time.Duration, lowest, highest float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range r.since(now, d) {
		low, high = min(low, s.Value), max(high, s.Value)
	}
	if len(r.Samples) == 0 || now.Sub(r.Samples[0].At) < d {
		low, high = min(low, lowest), max(high, highest)
	}
	return low, high
}
