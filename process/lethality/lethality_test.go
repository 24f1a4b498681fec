package lethality

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v within %g", what, got, want, tol)
	}
}

// The closed form of a segment against Gauss-Legendre quadrature of the rate
// (gonum.org/v1/gonum/integrate/quad), piece by piece between floor and cap.
func TestSegmentAgainstQuadrature(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		target := rapid.SampledFrom(Targets()).Draw(rt, "target")
		v1 := rapid.Float64Range(20, 95).Draw(rt, "v1")
		v2 := rapid.Float64Range(20, 95).Draw(rt, "v2")
		dt := rapid.Float64Range(0.01, 60).Draw(rt, "dt")
		at := func(m float64) float64 { return v1 + (v2-v1)*m/dt }
		rate := func(m float64) float64 { return target.rate(min(at(m), target.CapC)) }
		want := 0.0
		for _, p := range pieces(v1, v2, dt, target.FloorC, target.RefC, target.CapC) {
			if at((p[0]+p[1])/2) >= target.FloorC {
				want += quad.Fixed(rate, p[0], p[1], 40, quad.Legendre{}, 0)
			}
		}
		if got := target.Segment(v1, v2, dt); math.Abs(got-want) > 1e-10*(1+want) {
			rt.Fatalf("Segment(%v, %v, %v) = %v, quadrature %v", v1, v2, dt, got, want)
		}
	})
}

// pieces cuts 0..dt where the line crosses a level.
func pieces(v1, v2, dt float64, levels ...float64) [][2]float64 {
	cuts := []float64{0}
	if v2 < v1 {
		slices.Reverse(levels)
	}
	for _, level := range levels {
		if off, ok := Crossing(v1, v2, dt, level); ok {
			cuts = append(cuts, off)
		}
	}
	cuts = append(cuts, dt)
	out := make([][2]float64, 0, len(cuts))
	for i := range cuts[1:] {
		out = append(out, [2]float64{cuts[i], cuts[i+1]})
	}
	return out
}

// Cutting a segment in two never changes a sum: readings may come at any rate.
func TestSumsDoNotDependOnCutting(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v1 := rapid.Float64Range(-5, 90).Draw(rt, "v1")
		v2 := rapid.Float64Range(-5, 90).Draw(rt, "v2")
		dt := rapid.Float64Range(0.1, 30).Draw(rt, "dt")
		cut := rapid.Float64Range(0.01, 0.99).Draw(rt, "cut")
		vm, dm := v1+(v2-v1)*cut, dt*cut
		target := rapid.SampledFrom(Targets()).Draw(rt, "target")
		for name, f := range map[string]func(a, b, d float64) float64{
			"Segment":    target.Segment,
			"TimeAbove":  func(a, b, d float64) float64 { return TimeAbove(a, b, d, 54.4) },
			"TimeWithin": func(a, b, d float64) float64 { return TimeWithin(a, b, d, 4.4, 60) },
		} {
			whole, parts := f(v1, v2, dt), f(v1, vm, dm)+f(vm, v2, dt-dm)
			if math.Abs(whole-parts) > 1e-8*(1+whole) {
				rt.Fatalf("%s: whole %v, in two parts %v", name, whole, parts)
			}
		}
	})
}

func TestSegmentLiesBetweenItsBounds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		target := rapid.SampledFrom(Targets()).Draw(rt, "target")
		v1 := rapid.Float64Range(0, 110).Draw(rt, "v1")
		v2 := rapid.Float64Range(0, 110).Draw(rt, "v2")
		got, low := target.Segment(v1, v2, 7), target.Lower(v1, v2, 7)
		high := 7 * target.Rate(max(v1, v2))
		if got < low*(1-1e-12) || got > high*(1+1e-12) {
			rt.Fatalf("Segment(%v, %v) = %v outside %v to %v", v1, v2, got, low, high)
		}
	})
}

// The hand check of the credit: at 60 °C one minute is one minute.
func TestHandChecks(t *testing.T) {
	target := Salmonella()
	near(t, "10 min at 60 °C", target.Segment(60, 60, 10), 10, 1e-12)
	near(t, "1 min at 95 °C, capped at 70", target.Segment(95, 95, 1), 63.0957, 1e-4)
	near(t, "1 min at 54.43 °C, under the floor", target.Segment(54.43, 54.43, 1), 0, 0)
	near(t, "D60 in log units", target.LogReduction(1.951), 1, 1e-12)
	near(t, "a fall earns what the rise earns", target.Segment(65, 50, 60), target.Segment(50, 65, 60), 1e-12)
}

func TestMissingDataNeverHelps(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	target := Salmonella()
	for _, c := range [][3]float64{{nan, 65, 1}, {65, nan, 1}, {inf, 65, 1}, {65, -inf, 1}, {65, 65, -1}, {65, 65, 0}, {65, 65, nan}} {
		if got := target.Segment(c[0], c[1], c[2]); got != 0 {
			t.Errorf("Segment%v = %v, want 0", c, got)
		}
		if got := TimeAbove(c[0], c[1], c[2], 60); got != 0 {
			t.Errorf("TimeAbove%v = %v, want 0", c, got)
		}
	}
	for _, c := range [][3]float64{{nan, 65, 1}, {55, nan, 1}, {inf, 55, 1}, {55, inf, 1}, {55, 65, -1}, {55, 65, nan}} {
		if off, ok := Crossing(c[0], c[1], c[2], 60); ok {
			t.Errorf("Crossing%v = %v, want none", c, off)
		}
	}
	if off, ok := Crossing(55, 65, 0, 60); !ok || off != 0 {
		t.Errorf("a step without time: %v %v, want a crossing at 0", off, ok)
	}
	var s Sum
	s.Add(target, 65, 65, 16, 15)
	s.Add(target, nan, 65, 1, 15)
	s.Add(target, 65, 65, 1, nan)
	if s.FMin != 0 || s.LowerMin != 0 || s.GapMin != 18 {
		t.Errorf("after gaps: %+v, want no credit and 18 min of gap", s)
	}
	s.Add(target, 60, 60, 15, 15)
	near(t, "credit of 15 min at the limit of the gap", s.FMin, 15, 1e-12)
}

func TestGapsInTheZone(t *testing.T) {
	nan, zone := math.NaN(), ConsumerZone()
	for _, c := range []struct {
		name      string
		v1, v2    float64
		want, gap float64
	}{
		{"both ends cold", 2, 4, 0, 0},
		{"both ends hot", 62, 70, 0, 0},
		{"one end in the zone counts in full", 2, 5, 60, 60},
		{"from cold to hot passes through", 2, 70, 60, 60},
		{"an unknown end may be anything", nan, 2, 60, 60},
	} {
		var e Exposure
		e.Add(zone, c.v1, c.v2, 60, 15)
		if e.Minutes != c.want || e.GapMinutes != c.gap {
			t.Errorf("%s: %+v, want %v min, %v of them unseen", c.name, e, c.want, c.gap)
		}
	}
}

func TestCrossing(t *testing.T) {
	for _, c := range []struct {
		name       string
		v1, v2, at float64
		ok         bool
	}{
		{"falling", 60, 50, 5.6, true},
		{"rising", 50, 60, 4.4, true},
		{"arriving at the level from below", 50, 54.4, 10, true},
		{"arriving at the level from above is not below it yet", 60, 54.4, 0, false},
		{"leaving the level downwards", 54.4, 50, 0, true},
		{"leaving the level upwards", 54.4, 60, 0, false},
		{"level", 54.4, 54.4, 0, false},
		{"all above", 60, 70, 0, false},
	} {
		at, ok := Crossing(c.v1, c.v2, 10, 54.4)
		if ok != c.ok || math.Abs(at-c.at) > 1e-9 {
			t.Errorf("%s: %v %v, want %v %v", c.name, at, ok, c.at, c.ok)
		}
	}
}

func TestDwell(t *testing.T) {
	var d Dwell
	d.Add(60, 58, 62, 10, 15) // 5 min above
	d.Add(60, 62, 62, 10, 15) // 10 more
	d.Add(60, 62, 58, 10, 15) // 5 more, run of 20 ends
	d.Add(60, 58, 61, 3, 15)  // 1
	d.Add(60, 61, 61, 16, 15) // gap: nothing, and the run is broken
	d.Add(60, 61, 61, 2, 15)  // 2
	near(t, "total", d.TotalMin, 23, 1e-9)
	near(t, "longest", d.LongestMin, 20, 1e-9)
	near(t, "still running", d.RunMin, 2, 1e-9)
}

func BenchmarkSegment(b *testing.B) {
	target := Salmonella()
	var s Sum
	b.ReportAllocs()
	for b.Loop() {
		s.Add(target, 57.2, 57.3, 0.5, 5)
	}
}

// A batch of weeks has a million segments: none of the sums may allocate.
func TestSegmentsDoNotAllocate(t *testing.T) {
	target, zone := Salmonella(), ConsumerZone()
	var s Sum
	var d Dwell
	var e Exposure
	n := testing.AllocsPerRun(100, func() {
		s.Add(target, 50, 72, 0.5, 5)
		d.Add(60, 50, 72, 0.5, 5)
		e.Add(zone, 50, 72, 0.5, 5)
		Crossing(50, 72, 0.5, 60)
	})
	if n != 0 {
		t.Errorf("%v allocations per segment, want 0", n)
	}
}
