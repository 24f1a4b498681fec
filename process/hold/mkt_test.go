package hold

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"
)

// Mean kinetic temperature of one straight line against
// gonum.org/v1/gonum/integrate/quad.
func TestMeanKineticAgainstGonum(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		from, to := rapid.Float64Range(-20, 40).Draw(rt, "from"), rapid.Float64Range(-20, 40).Draw(rt, "to")
		rate := quad.Fixed(func(x float64) float64 {
			return math.Exp(-ActivationK / (from + (to-from)*x + zeroK))
		}, 0, 1, 60, quad.Legendre{}, 0)
		got, ok := MeanKineticLine([]Sample{{0, from}, {7, to}})
		if want := -ActivationK/math.Log(rate) - zeroK; !ok || math.Abs(got-want) > 1e-8 {
			rt.Fatalf("%v %v, gonum %v", got, ok, want)
		}
	})
}

// It lies between the coldest and the warmest, and is the temperature when that
// stays.
func TestMeanKinetic(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		readings := rapid.SliceOfN(rapid.Float64Range(-30, 60), 1, 50).Draw(rt, "readings")
		low, high := math.Inf(1), math.Inf(-1)
		for _, c := range readings {
			low, high = min(low, c), max(high, c)
		}
		if got, ok := MeanKinetic(readings); !ok || got < low-1e-9 || got > high+1e-9 {
			rt.Fatalf("%v %v, readings from %v to %v", got, ok, low, high)
		}
	})
	for name, ok := range map[string]bool{
		"nothing":      second(MeanKinetic(nil)),
		"no number":    second(MeanKinetic([]float64{4, math.NaN()})),
		"colder still": second(MeanKinetic([]float64{4, -300})),
		"one sample":   second(MeanKineticLine([]Sample{{0, 4}})),
		"time stands":  second(MeanKineticLine([]Sample{{0, 4}, {0, 5}})),
		"endless":      second(MeanKineticLine([]Sample{{0, 4}, {1, math.Inf(1)}})),
		"absurd":       second(MeanKineticLine([]Sample{{0, 4}, {1, 1e9}})),
	} {
		if ok {
			t.Errorf("%s: answered", name)
		}
	}
}

func TestFreezingRefuses(t *testing.T) {
	near(t, "a cured loin", number(Freezing(0.65, 0.03)), -3.69, 0.005)
	for name, ok := range map[string]bool{
		"no water":        second(Freezing(0, 0.03)),
		"per cent":        second(Freezing(65, 3)),
		"more than all":   second(Freezing(0.9, 0.2)),
		"salt under none": second(Freezing(0.7, -0.01)),
		"brine too salt":  second(Freezing(0.3, 0.1)),
		"unknown":         second(Freezing(math.NaN(), 0.03)),
	} {
		if ok {
			t.Errorf("%s: answered", name)
		}
	}
}
