package cure

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Weighings made by the model are fitted to its diffusivity, and the target is
// reached inside the interval.
func TestDryingThereAndBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := Drying{PathM: 0.02, Limit: 0.5, D: rapid.Float64Range(1e-11, 2.5e-10).Draw(rt, "d")}
		a := rapid.Float64Range(1, 6).Draw(rt, "first")
		b := a + rapid.Float64Range(1, 6).Draw(rt, "between")
		f, err := d.Forecast([]Weighing{{a, d.Loss(a)}, {b, d.Loss(b)}}, 0.35)
		if err != nil {
			rt.Fatal(err)
		}
		if want := d.DaysTo(0.35); math.Abs(f.Days-want) > 1e-6*want || !(f.Earliest < want && want < f.Latest) {
			rt.Fatalf("%+v, want %v", f, want)
		}
		if !f.Promised || f.Hardening || math.Abs(f.Fits[0]-d.D) > 1e-8*d.D {
			rt.Fatalf("%+v of %v", f, d.D)
		}
	})
}

func TestDryingSlowsDown(t *testing.T) {
	d := Drying{PathM: 0.02, Limit: 0.5}
	f, err := d.Forecast([]Weighing{{7, 0.20}, {14, 0.22}}, 0.35)
	if err != nil || !f.Hardening {
		t.Errorf("%+v, %v: want hardening", f, err)
	}
	f, err = d.Forecast([]Weighing{{7, 0.14}}, 0.35)
	if err != nil || f.Promised {
		t.Errorf("one weighing: %+v, %v: want no promise", f, err)
	}
}

func TestDryingRefusals(t *testing.T) {
	good := Drying{PathM: 0.02, Limit: 0.5}
	for name, c := range map[string]struct {
		d      Drying
		w      []Weighing
		target float64
	}{
		"no weighing":        {good, nil, 0.35},
		"no path":            {Drying{Limit: 0.5}, []Weighing{{7, 0.1}}, 0.35},
		"limit in percent":   {Drying{PathM: 0.02, Limit: 50}, []Weighing{{7, 0.1}}, 0.35},
		"target not reached": {good, []Weighing{{7, 0.1}}, 0.5},
		"gained weight":      {good, []Weighing{{7, -0.1}}, 0.35},
		"lost all":           {good, []Weighing{{7, 0.6}}, 0.35},
		"days fall":          {good, []Weighing{{7, 0.1}, {6, 0.2}}, 0.35},
		"no number":          {good, []Weighing{{math.NaN(), 0.1}}, 0.35},
		"loss no number":     {good, []Weighing{{7, math.NaN()}}, 0.35},
	} {
		if f, err := c.d.Forecast(c.w, c.target); err == nil {
			t.Errorf("%s: %+v", name, f)
		}
	}
	if !math.IsInf(Drying{PathM: 0.02, Limit: 0.5}.DaysTo(0.3), 1) || (Drying{PathM: 0.02, Limit: 0.5, D: 1e-10}).DaysTo(0) != 0 {
		t.Error("nothing dries without a diffusivity; no loss takes no days")
	}
	near(t, "a loss under the limit is in time", DryingTau(1-1e-12), 11.1, 1)
}

func TestActivityRefusals(t *testing.T) {
	for name, p := range map[string]Product{
		"percent": {Water: 75}, "dry": {Water: 0.5, Loss: 0.5}, "no number": {Water: 0.7, Salt: math.NaN()},
		"negative": {Water: 0.7, Salt: -0.1}, "bound": {Water: 0.7, Protein: 0.21, Loss: 0.65},
	} {
		if a, err := p.Activity(); err == nil {
			t.Errorf("%s: %+v", name, a)
		}
	}
}

// Salt, sugar and loss of water never raise the estimate.
func TestActivityFalls(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := Product{Water: 0.7, Protein: 0.2, Salt: rapid.Float64Range(0, 0.05).Draw(rt, "salt"),
			Sucrose: rapid.Float64Range(0, 0.02).Draw(rt, "sucrose"), Loss: rapid.Float64Range(0, 0.4).Draw(rt, "loss")}
		a, err := p.Activity()
		if err != nil {
			rt.Fatal(err)
		}
		for _, more := range []Product{{0.7, 0.2, p.Salt + 0.001, p.Sucrose, p.Loss}, {0.7, 0.2, p.Salt, p.Sucrose + 0.001, p.Loss}, {0.7, 0.2, p.Salt, p.Sucrose, p.Loss + 0.01}} {
			if b, err := more.Activity(); err != nil || !(b.AW < a.AW) || !(b.AW > 0) {
				rt.Fatalf("%+v after %+v, %v", b, a, err)
			}
		}
	})
}

// With a vanishing loss the nitrite that decays is the slab of Cut.
func TestDecayingWithoutLoss(t *testing.T) {
	for _, tau := range []float64{0.05, 0.354, 1} {
		centre, mean := Decaying{0.087, 1e-9}.Profile(tau)
		near(t, "centre", centre, Cut{Slab, 0.087}.Centre(tau), 1e-7)
		near(t, "mean", mean, Cut{Slab, 0.087}.Mean(tau), 1e-7)
	}
}

func TestBoxOfASlab(t *testing.T) {
	centre, mean := Box(0.3, 1e6, 1e6)
	near(t, "centre", centre, Cut{Slab, math.Inf(1)}.Centre(0.3), 1e-12)
	near(t, "mean", mean, Cut{Slab, math.Inf(1)}.Mean(0.3), 1e-5)
}
