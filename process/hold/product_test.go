package hold

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

func second[T any](_ T, ok bool) bool { return ok }

// One step against its integral, Tp exp(-D/tau) + 1/tau ∫ Ta exp(-(D-t)/tau) dt, by
// gonum.org/v1/gonum/integrate/quad.
func TestFollowAgainstGonum(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := func(name string) float64 { return rapid.Float64Range(-10, 40).Draw(rt, name) }
		product, from, to := c("product"), c("from"), c("to")
		minutes, tau := rapid.Float64Range(0.01, 600).Draw(rt, "minutes"), rapid.Float64Range(20, 2000).Draw(rt, "tau")
		air := func(m float64) float64 { return from + (to-from)*m/minutes }
		want := product*math.Exp(-minutes/tau) +
			quad.Fixed(func(m float64) float64 { return air(m) * math.Exp(-(minutes-m)/tau) / tau }, 0, minutes, 60, quad.Legendre{}, 0)
		if got := Follow(product, from, to, minutes, tau); math.Abs(got-want) > 1e-9 {
			rt.Fatalf("%v, gonum %v", got, want)
		}
	})
}

// However a straight line of air is cut into samples, the product is the same, and
// it stays between what it was and the air.
func TestFollowCut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		tau := rapid.Float64Range(1, 500).Draw(rt, "tau")
		n := rapid.IntRange(1, 40).Draw(rt, "n")
		product := 3.0
		for i := range n {
			a, b := 3+9*float64(i)/float64(n), 3+9*float64(i+1)/float64(n)
			product = Follow(product, a, b, 60/float64(n), tau)
		}
		if whole := Follow(3, 3, 12, 60, tau); math.Abs(product-whole) > 1e-9 || whole < 3 || whole > 12 {
			rt.Fatalf("in %d pieces %v, whole %v", n, product, whole)
		}
	})
}

// A step of less than a microsecond moves by its part, not by rounding.
func TestFollowShort(t *testing.T) {
	near(t, "moved", Follow(3, 13, 13, 1e-8, 100)-3, 10*1e-10, 1e-15)
	near(t, "no time", Follow(3, 13, 20, 0, 100), 3, 0)
	if !math.IsNaN(Follow(3, 13, 20, -1, 100)) || !math.IsNaN(Follow(3, 13, 20, 1, 0)) {
		t.Error("time that goes back, and no time constant, have an answer")
	}
}

// Over a gap the estimate keeps the last air, says so and parts; it lies between its
// bounds and comes together again.
func TestGap(t *testing.T) {
	e, _ := Begin(3, 3).Next(3, 1, 90)
	if e.Stale || e.LowC != e.HighC {
		t.Fatalf("stale after a minute: %+v", e)
	}
	e, ok := e.Next(12, 15, 90)
	if !ok || e.Stale || e.HighC != e.LowC {
		t.Fatalf("a gap of 15 min is no gap: %+v", e)
	}
	if e, _ := Begin(3, 3).Next(12, 15.1, 90); !e.Stale {
		t.Errorf("a gap over %v min goes unseen", MaxGapMin)
	}
	e, _ = Begin(3, 3).Next(12, 90, 90)
	if !e.Stale || e.ProductC != 3 || e.LowC != 3 {
		t.Errorf("air of before the gap must stay: %+v", e)
	}
	near(t, "if the gap was warm", e.HighC, 12-9/math.E, 1e-12)
	for range 900 {
		if e, _ = e.Next(12, 1, 90); e.Stale || e.ProductC < e.LowC || e.ProductC > e.HighC {
			t.Fatalf("%+v", e)
		}
	}
	near(t, "apart after ten time constants", e.HighC-e.LowC, 0, 1e-3)
}

func TestEstimateRefuses(t *testing.T) {
	e := Begin(3, 4)
	nan := math.NaN()
	for name, step := range map[string][3]float64{
		"no time": {4, 0, 90}, "back": {4, -1, 90}, "no tau": {4, 1, 0}, "unknown air": {nan, 1, 90},
		"unknown time": {4, nan, 90}, "unknown tau": {4, 1, nan}, "endless air": {math.Inf(1), 1, 90},
	} {
		if next, ok := e.Next(step[0], step[1], step[2]); ok || next != e {
			t.Errorf("%s: %+v %v", name, next, ok)
		}
	}
}

// After MinutesTo the product is at the limit.
func TestMinutesTo(t *testing.T) {
	e := Begin(3, 12)
	minutes, ok := e.MinutesTo(5, 90)
	if !ok {
		t.Fatal("never")
	}
	near(t, "then", Follow(3, 12, 12, minutes, 90), 5, 1e-12)
	over, ok := Begin(6, 2).MinutesTo(5, 90)
	if !ok || over != 0 {
		t.Errorf("over the limit already: %v %v", over, ok)
	}
	for name, ok := range map[string]bool{
		"air under the limit": second(Begin(3, 4.9).MinutesTo(5, 90)),
		"air at the limit":    second(Begin(3, 5).MinutesTo(5, 90)),
		"unknown product":     second(Begin(math.NaN(), 12).MinutesTo(5, 90)),
		"unknown limit":       second(e.MinutesTo(math.NaN(), 90)),
		"no tau":              second(e.MinutesTo(5, 0)),
	} {
		if ok {
			t.Errorf("%s: answered", name)
		}
	}
}
