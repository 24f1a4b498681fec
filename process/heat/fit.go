package heat

import "math"

// The window of the fit and the gate before it is believed (choices of this
// project; on 60 synthetic slabs, cylinders and spheres the forecast was hours
// late before the gate and minutes off after it).
const (
	WindowMin  = 40.0 // minutes of readings that are fitted
	SteadyPart = 0.10 // the two halves of the window may differ by this in rate
	SdAirC     = 0.2  // standard deviation of the air's mean, K
	minSdCoreC = 0.1  // resolution of a usual probe, K
	minPerHalf = 4    // readings needed in each half of the window
)

// FitCooling fits Newton cooling to the last WindowMin minutes of a core, in air
// of the median of its own samples in the same window. Samples are in order of
// time. ok is false when that window holds too few readings, or the core is not
// warmer than the air, or not falling. steady is false while the rate still
// changes, by more than SteadyPart between the halves of the window: the outside
// then cools and the core has not followed, and a forecast would be far too late.
func FitCooling(core, air []Sample) (c Cooling, steady, ok bool) {
	if len(core) == 0 {
		return Cooling{}, false, false
	}
	last := core[len(core)-1]
	core, air = since(core, last.Min-WindowMin), since(air, last.Min-WindowMin)
	if len(air) == 0 || !allFinite(core) || !allFinite(air) {
		return Cooling{}, false, false
	}
	airC := medianC(air)
	early, late := halves(core, last.Min-WindowMin/2)
	all, ok := decay(core, airC)
	if !ok || len(early) < minPerHalf || len(late) < minPerHalf {
		return Cooling{}, false, false
	}
	c = Cooling{NowC: last.C, SdNow: max(all.sigma*(last.C-airC), minSdCoreC), AirC: airC, SdAir: SdAirC}
	c.TauH = 1 / all.perHour
	c.SdTau = all.se * c.TauH * c.TauH
	return c, alike(early, late, airC), true
}

// FallsIn reports whether the last WindowMin minutes of a core fall as they do in this
// air. In colder air the rate, reckoned with this one's, grows by more than growPart from
// one half of them to the other; with too few readings it is false.
func FallsIn(core, air []Sample) bool {
	if len(core) == 0 {
		return false
	}
	last := core[len(core)-1]
	core, air = since(core, last.Min-WindowMin), since(air, last.Min-WindowMin)
	if len(air) == 0 || !allFinite(core) || !allFinite(air) {
		return false
	}
	early, late := halves(core, last.Min-WindowMin/2)
	if len(early) < minPerHalf || len(late) < minPerHalf {
		return false
	}
	airC := medianC(air)
	a, ok1 := decay(early, airC)
	b, ok2 := decay(late, airC)
	return ok1 && ok2 && b.perHour <= (1+growPart)*a.perHour
}

// growPart lies between the noise of a usual probe, about 1 %, and what a slab of a time
// constant of 2.5 h shows in a fridge, 6 % (choice of this project).
const growPart = 0.03

func alike(early, late []Sample, airC float64) bool {
	a, ok1 := decay(early, airC)
	b, ok2 := decay(late, airC)
	return ok1 && ok2 && math.Abs(b.perHour-a.perHour) <= SteadyPart*a.perHour
}

// A rate is the fall of ln(T - air), per hour, with its standard error and the
// scatter about the line.
type rate struct{ perHour, se, sigma float64 }

// decay is the least-squares rate. ok is false unless all samples are above the
// air and the rate is positive.
func decay(core []Sample, airC float64) (rate, bool) {
	logs := make([]Sample, len(core))
	for i, s := range core {
		if !(s.C > airC) {
			return rate{}, false
		}
		logs[i] = Sample{Min: s.Min, C: math.Log(s.C - airC)}
	}
	fit, ok := LeastSquares(logs)
	return rate{perHour: -fit.PerHour, se: fit.Se, sigma: fit.SigmaC}, ok && fit.PerHour < 0
}

func since(samples []Sample, from float64) []Sample {
	for i, s := range samples {
		if s.Min >= from {
			return samples[i:]
		}
	}
	return nil
}

// halves cuts at a time; a sample at it belongs to both.
func halves(samples []Sample, at float64) (early, late []Sample) {
	late = since(samples, at)
	early = samples[:len(samples)-len(late)]
	if len(late) > 0 && late[0].Min == at {
		early = samples[:len(early)+1]
	}
	return early, late
}

func medianC(samples []Sample) float64 {
	values := make([]float64, len(samples))
	for i, s := range samples {
		values[i] = s.C
	}
	return median(values)
}
