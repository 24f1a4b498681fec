package heat

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v within %g", what, got, want, tol)
	}
}

// newton makes minutes of an exact cooling from startC to airC.
func newton(startC, airC, tauH float64, minutes int) (core, air []Sample) {
	for m := range minutes {
		at := float64(m)
		core = append(core, Sample{at, airC + (startC-airC)*math.Exp(-at/60/tauH)})
		air = append(air, Sample{at, airC})
	}
	return core, air
}

// Least squares against gonum.org/v1/gonum/stat, on any samples.
func TestLeastSquaresAgainstGonum(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(3, 60).Draw(rt, "n")
		var samples []Sample
		var x, y []float64
		for i := range n {
			c := rapid.Float64Range(-20, 120).Draw(rt, "c")
			samples = append(samples, Sample{float64(i), c})
			x, y = append(x, float64(i)), append(y, c)
		}
		_, want := stat.LinearRegression(x, y, nil, false)
		got, ok := LeastSquares(samples)
		if !ok || math.Abs(got.PerHour-60*want) > 1e-8*(1+math.Abs(60*want)) {
			rt.Fatalf("slope %v %v, gonum %v", got, ok, 60*want)
		}
	})
}

// The median against sorting, with many values alike.
func TestMedian(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(-9, 9), func(i int) float64 { return float64(i) / 4 }), 1, 80).Draw(rt, "values")
		sorted := slices.Sorted(slices.Values(values))
		n := len(sorted)
		want := (sorted[n/2] + sorted[(n-1)/2]) / 2
		if got := median(values); got != want {
			rt.Fatalf("median %v, want %v", got, want)
		}
	})
}

// The tail of the forecast against gonum.org/v1/gonum/stat/distuv.
func TestLateAgainstGonum(t *testing.T) {
	x := Crossing{Hours: 2.5, SdHours: 0.3}
	normal := distuv.Normal{Mu: x.Hours, Sigma: x.Sd()}
	for limit := 0.5; limit < 5; limit += 0.25 {
		near(t, "P(late)", x.Late(limit), normal.Survival(limit), 1e-12)
	}
	_, late := x.Interval()
	near(t, "model error alone", Crossing{Hours: 2}.Sd(), 0.2, 1e-12)
	near(t, "both errors", Crossing{Hours: 3, SdHours: 0.4}.Sd(), 0.5, 1e-12)
	near(t, "P(after the interval)", x.Late(late), 0.10, 1e-4)
}

func TestFitFindsWhatWasMade(t *testing.T) {
	core, air := newton(60, 3, 2.5, 90)
	c, steady, ok := FitCooling(core, air)
	if !ok || !steady {
		t.Fatalf("ok %v steady %v, want both", ok, steady)
	}
	near(t, "tau", c.TauH, 2.5, 1e-9)
	near(t, "air", c.AirC, 3, 0)
	near(t, "now", c.NowC, core[89].C, 0)
	x, ok := c.Crossing(10)
	want := 2.5*math.Log((60.0-3)/(10-3)) - 89.0/60
	if !ok || math.Abs(x.Hours-want) > 1e-9 {
		t.Errorf("crossing %v %v, want %v", x, ok, want)
	}
}

// A core that has not followed its outside yet falls ever faster: not steady.
func TestFitWaitsUntilSteady(t *testing.T) {
	core, air := newton(60, 3, 2.5, 60)
	for i := range core {
		core[i].C = 60 - 0.004*float64(i*i)
	}
	if c, steady, ok := FitCooling(core, air); !ok || steady {
		t.Errorf("fit %+v steady %v ok %v, want a fit that is not steady", c, steady, ok)
	}
}

// The gate lies at a tenth between the halves of the window.
func TestGate(t *testing.T) {
	for part, want := range map[float64]bool{0.85: false, 0.92: true, 1: true, 1.08: true, 1.15: false} {
		core, air := newton(60, 3, 2.5, 61)
		for i := 41; i < 61; i++ {
			core[i].C = 3 + (core[40].C-3)*math.Exp(-part*float64(i-40)/60/2.5)
		}
		if _, steady, ok := FitCooling(core, air); !ok || steady != want {
			t.Errorf("second half %v times as fast: steady %v ok %v, want %v", part, steady, ok, want)
		}
	}
}

func TestFitRefuses(t *testing.T) {
	core, air := newton(60, 3, 2.5, 60)
	hot := append([]Sample(nil), core...)
	hot[50].C = math.NaN()
	warm, _ := newton(2, 3, 2.5, 60)
	rising, _ := newton(20, 40, 2.5, 60)
	_, coldRoom := newton(0, 3, 1, 60)
	for name, f := range map[string][2][]Sample{
		"nothing":              {nil, air},
		"no air":               {core, nil},
		"air of another hour":  {core, []Sample{{-200, 3}}},
		"a hole in the window": {append(core[:3:3], core[59]), air},
		"no number":            {hot, air},
		"core colder than air": {warm, air},
		"core rising":          {rising, coldRoom},
	} {
		if c, _, ok := FitCooling(f[0], f[1]); ok {
			t.Errorf("%s: fitted %+v", name, c)
		}
	}
}

func TestCrossingEnds(t *testing.T) {
	c := Cooling{NowC: 20, AirC: 4.2, TauH: 2}
	if x, ok := c.Crossing(4.44); ok {
		t.Errorf("air 0.24 K under the limit: %v, want never", x)
	}
	if x, ok := c.Crossing(25); !ok || x.Hours != 0 {
		t.Errorf("already under the limit: %v %v, want 0", x, ok)
	}
	if x, ok := (Cooling{NowC: 20, AirC: 4}).Crossing(10); ok {
		t.Errorf("no time constant: %v", x)
	}
	if x, ok := (Cooling{NowC: 20, AirC: math.NaN(), TauH: 2}).Crossing(10); ok {
		t.Errorf("air unknown: %v", x)
	}
	exact := Crossing{}
	if exact.Late(1) != 0 || exact.Late(-1) != 1 {
		t.Error("a crossing without spread must be surely in time or surely late")
	}
}

// In air of AirNeeded the core passes the limit just in time.
func TestAirNeeded(t *testing.T) {
	c := Cooling{NowC: 40, AirC: 4, TauH: 2.2}
	c.AirC = c.AirNeeded(26.7, 0.8)
	x, ok := c.Crossing(26.7)
	if !ok || math.Abs(x.Hours-0.8) > 1e-9 {
		t.Errorf("in air of %v °C: %v %v, want 0.8 h", c.AirC, x, ok)
	}
	if !math.IsInf(c.AirNeeded(26.7, 0), -1) || !math.IsInf(c.AirNeeded(45, 1), 1) {
		t.Error("no time left needs endless cold; a limit passed needs none")
	}
}

// One wrong reading in ten moves least squares by far and Theil-Sen by little.
func TestTheilSenStands(t *testing.T) {
	var samples []Sample
	for i := range 31 {
		samples = append(samples, Sample{float64(i), 60 + 0.1*float64(i)})
	}
	for i := 4; i < 31; i += 9 {
		samples[i].C = 85
	}
	s, ok := TheilSen(samples)
	if !ok || math.Abs(s.PerHour-6) > 0.5 {
		t.Errorf("slope %v %v, want 6 K/h", s, ok)
	}
	for name, few := range map[string][]Sample{
		"two": samples[:2], "one time": {{1, 2}, {1, 3}, {1, 4}}, "no number": {{1, 2}, {2, math.NaN()}, {3, 4}},
	} {
		if s, ok := TheilSen(few); ok {
			t.Errorf("%s: slope %v", name, s)
		}
		if s, ok := LeastSquares(few); ok {
			t.Errorf("%s: least squares %v", name, s)
		}
	}
}

func BenchmarkTheilSen(b *testing.B) {
	core, _ := newton(60, 3, 2.5, 31)
	b.ReportAllocs()
	for b.Loop() {
		TheilSen(core)
	}
}
