package hold

import (
	"math"
	"testing"
)

// The time constant that made a record is found in it, with a probe's noise too.
func TestFitTau(t *testing.T) {
	for _, tau := range []float64{12, 90, 700} {
		got, ok := FitTau(fridgeDay(tau, 0))
		if !ok || math.Abs(got/tau-1) > 1e-4 {
			t.Errorf("time constant %v %v, want %v", got, ok, tau)
		}
		if got, ok = FitTau(fridgeDay(tau, 0.1)); !ok || math.Abs(got/tau-1) > 0.1 {
			t.Errorf("with noise: time constant %v %v, want %v", got, ok, tau)
		}
	}
}

// fridgeDay is a fridge whose compressor cycles, with a warm spell in the middle.
func fridgeDay(tau, noise float64) []Pair {
	product, last := 3.0, 3.0
	var pairs []Pair
	for m := 0; m < int(FitMin); m += 2 {
		air := 3 + 1.5*math.Sin(float64(m)/7)
		if m > 400 && m < 700 {
			air += 6
		}
		if m > 0 {
			product = Follow(product, last, air, 2, tau)
		}
		last = air
		pairs = append(pairs, Pair{Min: float64(m), AirC: air, ProductC: product + noise*math.Sin(float64(m)*1.7)})
	}
	return pairs
}

func TestFitTauRefuses(t *testing.T) {
	pairs := fridgeDay(90, 0)
	back := append([]Pair(nil), pairs...)
	back[7].Min = back[6].Min
	hole := append([]Pair(nil), pairs...)
	hole[7].AirC = math.NaN()
	still := make([]Pair, 50)
	for i := range still {
		still[i] = Pair{Min: float64(i), AirC: 3, ProductC: 3}
	}
	for name, p := range map[string][]Pair{"few": pairs[:9], "time stands": back, "unknown": hole, "nothing moved": still} {
		if tau, ok := FitTau(p); ok {
			t.Errorf("%s: %v min", name, tau)
		}
	}
}
