package cure

import (
	"math"
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

// Simpson on kelvin panels against Gauss-Legendre quadrature of D(T(t))
// (gonum.org/v1/gonum/integrate/quad), on segments that may freeze on the way.
func TestIntegralAgainstQuadrature(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		t1 := rapid.Float64Range(-10, 25).Draw(rt, "t1")
		t2 := rapid.Float64Range(-10, 25).Draw(rt, "t2")
		hours := rapid.Float64Range(0.01, 48).Draw(rt, "hours")
		d := func(h float64) float64 { return Diffusivity(t1 + (t2-t1)*h/hours) }
		thaw := min(max(hours*(FrozenBelowC-t1)/(t2-t1), 0), hours)
		want := quad.Fixed(d, 0, thaw, 30, quad.Legendre{}, 0) + quad.Fixed(d, thaw, hours, 30, quad.Legendre{}, 0)
		if got := integral(t1, t2, hours); math.Abs(got-want) > 1e-9*(want+1e-12) {
			rt.Fatalf("integral(%v, %v, %v) = %v, quadrature %v", t1, t2, hours, got, want)
		}
	})
}

// The mean is the profile averaged over the piece.
func TestMeanIsTheProfileAveraged(t *testing.T) {
	for _, alpha := range []float64{0.05, 0.087, 1, math.Inf(1)} {
		for _, tau := range []float64{0.02, 0.1, 0.5} {
			want := quad.Fixed(func(xi float64) float64 { return SlabAt(alpha, xi, tau) }, 0, 1, 200, quad.Legendre{}, 0)
			near(t, "mean", Cut{Slab, alpha}.Mean(tau), want, 1e-9)
		}
	}
}

// D at the temperatures of the published list of this law (computed, 5 digits).
func TestDiffusivity(t *testing.T) {
	for tempC, want := range map[float64]float64{
		-1: 1.7501, 0: 1.8194, 2: 1.9646, 3: 2.0407, 4: 2.1191, 5: 2.2, 6: 2.2833, 8: 2.4576, 10: 2.6425, 12: 2.8383,
	} {
		near(t, "D in 1e-10 m²/s", Diffusivity(tempC)*1e10, want, 5e-5)
	}
	if Diffusivity(-2) == 0 || Diffusivity(-2.01) != 0 || Diffusivity(math.NaN()) != 0 {
		t.Error("D must be 0 below -2 °C, not at it, and 0 for no number")
	}
}

func TestDays(t *testing.T) {
	near(t, "a day at the reference", Days(4, 4, 24, 4), 1, 1e-12)
	near(t, "a day at 3 °C against 4", Days(3, 3, 24, 4), 0.963, 5e-4)
	near(t, "a day at 3 °C is its rate", Days(3, 3, 24, 4), RelativeRate(3, 4), 1e-12)
	near(t, "a frozen day", Days(-5, -5, 24, 4), 0, 0)
	near(t, "freezing half way", Days(-4, 0, 24, 4), Days(-2, 0, 12, 4), 1e-12)
	near(t, "a reference that is frozen", Days(4, 4, 24, -5)+RelativeRate(4, -5), 0, 0)
}

func TestMissingDataNeverHelps(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range [][3]float64{{nan, 4, 1}, {4, nan, 1}, {inf, 4, 1}, {4, 4, -1}, {4, 4, 0}, {4, 4, nan}} {
		got := Tau(c[0], c[1], c[2], 0.02) + Days(c[0], c[1], c[2], 4) + NitriteDecay(c[0], c[1], c[2], 5.8)
		if got != 0 {
			t.Errorf("sums of %v = %v, want 0", c, got)
		}
	}
	near(t, "no path", Tau(4, 4, 1, 0), 0, 0)
	near(t, "RelativeRate of no number", RelativeRate(nan, 4), 0, 0)
}

// Cutting a segment in two does not change a sum: readings may come at any rate.
func TestSumsDoNotDependOnCutting(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		t1 := rapid.Float64Range(-6, 20).Draw(rt, "t1")
		t2 := rapid.Float64Range(-6, 20).Draw(rt, "t2")
		cut := rapid.Float64Range(0.01, 0.99).Draw(rt, "cut")
		tm := t1 + (t2-t1)*cut
		for name, f := range map[string]func(a, b, h float64) float64{
			"Tau":          func(a, b, h float64) float64 { return Tau(a, b, h, 0.019) },
			"NitriteDecay": func(a, b, h float64) float64 { return NitriteDecay(a, b, h, 5.8) },
		} {
			whole, parts := f(t1, t2, 10), f(t1, tm, 10*cut)+f(tm, t2, 10*(1-cut))
			if math.Abs(whole-parts) > 1e-8*(1+whole) {
				rt.Fatalf("%s: whole %v, in two parts %v", name, whole, parts)
			}
		}
	})
}

// Centre and mean only ever rise, stay within 0 and 1, and the centre lags.
func TestFractionsRise(t *testing.T) {
	for _, shape := range []Shape{Slab, Cylinder, Sphere} {
		for _, alpha := range []float64{0, 1e-3, 0.087, 1, 50, math.Inf(1)} {
			cut := Cut{shape, alpha}
			centre, mean := 0.0, 0.0
			for tau := 1e-5; tau < 8; tau *= 1.6 {
				c, m := cut.Centre(tau), cut.Mean(tau)
				if c < centre-1e-12 || m < mean-1e-12 || c > m+1e-12 || m > 1+1e-12 {
					t.Fatalf("shape %d alpha %v tau %v: centre %v after %v, mean %v after %v", shape, alpha, tau, c, centre, m, mean)
				}
				centre, mean = c, m
			}
			near(t, "centre at the end", centre, 1, 1e-5)
		}
	}
}

// The early solution of the mean meets the series where it hands over.
func TestEarlyMeanMeetsTheSeries(t *testing.T) {
	for _, alpha := range []float64{0.01, 0.087, 1, math.Inf(1)} {
		cut := Cut{Slab, alpha}
		tau := cut.early()
		near(t, "early mean of a slab", cut.earlyMean(tau), cut.Mean(tau), 1e-9)
	}
	near(t, "scaled erfc across its change of method", scaledErfc(5-1e-12), scaledErfc(5), 1e-12)
}

func TestLimitsOfTauFor(t *testing.T) {
	cut := Cut{Slab, 0.1}
	if cut.TauFor(0) != 0 || cut.TauFor(math.NaN()) != 0 || !math.IsInf(cut.TauFor(1), 1) {
		t.Errorf("TauFor of 0, none, 1 = %v, %v, %v", cut.TauFor(0), cut.TauFor(math.NaN()), cut.TauFor(1))
	}
	near(t, "there and back", cut.Centre(cut.TauFor(0.37)), 0.37, 1e-12)
}

// A 1.5 in belly in a bag at 4 °C: the published centre fractions of days 5, 6, 7.
func TestBelly(t *testing.T) {
	bath := Bag(2268, 0.5, DefaultPurge*2268, 56.7, 0)
	cut, path := Cut{Slab, bath.Alpha}, Path(Slab, 0.0381, false)
	for day, want := range map[float64]float64{5: 0.765, 6: 0.846, 7: 0.899} {
		near(t, "centre", cut.Centre(Tau(4, 4, 24*day, path)), want, 5e-4)
	}
	f := cut.Finish(DefaultFraction, 0, path, 4)
	near(t, "days to 0.90", f.Hours/24, 7.02, 0.005)
	near(t, "earliest", f.Earliest*SpreadD, f.Hours, 1e-9)
	near(t, "latest", f.Latest/SpreadD, f.Hours, 1e-9)
	if f := cut.Finish(DefaultFraction, 0, path, -5); !math.IsInf(f.Hours, 1) {
		t.Errorf("frozen: %v hours left, want no end", f.Hours)
	}
}

func TestReached(t *testing.T) {
	cut := Cut{Slab, 0.087}
	whole := cut.TauFor(0.9)
	for tau, want := range map[float64]Reach{
		0.9 * whole: NotYet, 1.01 * whole: Likely, 1.6 * whole: Likely, 1.68 * whole: Sure,
	} {
		if got := cut.Reached(0.9, tau); got != want {
			t.Errorf("tau %v of %v: %q, want %q", tau, whole, got, want)
		}
	}
}

func TestDoseRefusals(t *testing.T) {
	mix := CuringSalt{Nitrite: 0.0625, Salt: 0.9375}
	for name, a := range map[string]Application{
		"unknown method":  {Method: "spoon", Meat: 1},
		"no method":       {Meat: 1},
		"no meat":         {Method: Dry},
		"negative meat":   {Method: Comminuted, Meat: -1},
		"no pickle":       {Method: Immersed, Meat: 1},
		"no pump":         {Method: Pumped, Pickle: 1},
		"pump in percent": {Method: Pumped, Pickle: 1, Uptake: 10},
		"no number":       {Method: Dry, Meat: math.NaN()},
	} {
		if v, err := a.Ingoing(1, mix); err == nil {
			t.Errorf("%s: dose %v, want a refusal", name, v)
		}
	}
	good := Application{Method: Dry, Meat: 1000}
	if _, err := good.Ingoing(-1, mix); err == nil {
		t.Error("negative curing salt taken")
	}
	if _, err := good.CureFor(math.Inf(1), mix); err == nil {
		t.Error("endless target taken")
	}
	if _, err := good.Ingoing(1, CuringSalt{Nitrite: 6.25}); err == nil {
		t.Error("nitrite part in percent taken: a hundredfold dose")
	}
}

// Weighing what CureFor says gives the ppm asked for, by every method.
func TestDoseThereAndBack(t *testing.T) {
	mix := CuringSalt{Nitrite: 0.0625}
	for _, m := range []Method{Dry, Comminuted, Pumped, PickedUp, Immersed} {
		a := Application{Method: m, Meat: 2000, Pickle: 1500, Uptake: 0.1}
		cure, err := a.CureFor(120, mix)
		if err != nil {
			t.Fatal(err)
		}
		got, err := a.Ingoing(cure, mix)
		if err != nil {
			t.Fatal(err)
		}
		near(t, string(m), got, 120, 1e-9)
	}
}

// A cure of weeks has a million segments: the sums may not allocate.
func TestSegmentsDoNotAllocate(t *testing.T) {
	n := testing.AllocsPerRun(100, func() {
		Tau(3.5, 4.2, 0.01, 0.019)
		Days(3.5, 4.2, 0.01, 4)
		NitriteDecay(3.5, 4.2, 0.01, 5.8)
	})
	if n != 0 {
		t.Errorf("%v allocations per segment, want 0", n)
	}
}

func BenchmarkTau(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		Tau(3.5, 4.2, 0.01, 0.019)
	}
}

func BenchmarkCentre(b *testing.B) {
	cut := Cut{Slab, 0.087}
	b.ReportAllocs()
	for b.Loop() {
		cut.Centre(0.2)
	}
}
