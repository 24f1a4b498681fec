package heat

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// The first root against gonum.org/v1/gonum/mat: the body cut into shells, its heat
// flow a symmetric matrix, whose smallest eigenvalue is zeta² up to the square of
// the width of a shell.
func TestFirstRootAgainstGonum(t *testing.T) {
	const shells = 240
	for _, biot := range []float64{0.1, 0.5, 1, 3, 10} {
		for shape, dim := range map[Shape]float64{Slab: 1, Cylinder: 2, Sphere: 3} {
			first, ok := shape.OneTerm(biot)
			var eigen mat.EigenSym
			if !ok || !eigen.Factorize(shellMatrix(dim, biot, shells), false) {
				t.Fatal("no root or no eigenvalues")
			}
			near(t, "first root", first.Zeta*first.Zeta/eigen.Values(nil)[0], 1, 1e-4)
		}
	}
}

// shellMatrix is the flow between shells of equal width in a slab (dim 1), cylinder
// (2) or sphere (3), made symmetric by the root of the shells' volumes.
func shellMatrix(dim, biot float64, n int) *mat.SymDense {
	edge := func(i int) float64 { return float64(i) / float64(n) }
	area := func(i int) float64 { return math.Pow(edge(i), dim-1) }
	volume := func(i int) float64 { return (math.Pow(edge(i+1), dim) - math.Pow(edge(i), dim)) / dim }
	m := mat.NewSymDense(n, nil)
	for i := range n {
		out := area(i+1) / (1/biot + 0.5/float64(n)) // to the air, through half a shell
		if i < n-1 {
			out = area(i+1) * float64(n)
			m.SetSym(i, i+1, -out/math.Sqrt(volume(i)*volume(i+1)))
		}
		in := 0.0
		if i > 0 {
			in = area(i) * float64(n)
		}
		m.SetSym(i, i, (in+out)/volume(i))
	}
	return m
}

// A series begins at 1, falls, never under 0, and its time is the inverse of it.
func TestSeriesFalls(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		shape := Shape(rapid.IntRange(0, 2).Draw(rt, "shape"))
		s, ok := NewSeries(shape, math.Pow(10, rapid.Float64Range(-6, 6).Draw(rt, "log Bi")))
		if !ok {
			rt.Fatal("no series")
		}
		last := 1.0
		for fo := 0.0; fo < 3; fo += 0.01 {
			part := s.Centre(fo)
			if part > last+1e-9 || part < -1e-9 {
				rt.Fatalf("Fo %v: %v after %v", fo, part, last)
			}
			last = part
		}
		part := rapid.Float64Range(0.001, 0.98).Draw(rt, "part")
		fo, ok := s.Fo(part)
		if !ok || math.Abs(s.Centre(fo)-part) > 1e-9 {
			rt.Fatalf("Fo %v of part %v gives %v", fo, part, s.Centre(fo))
		}
	})
}

// No stretch of a cooling is steeper than the ceiling, and one comes near it.
func TestCeilingHolds(t *testing.T) {
	for shape := Slab; shape <= Sphere; shape++ {
		for _, biot := range []float64{0.01, 0.3, 1, 4, 1e5} {
			s, _ := NewSeries(shape, biot)
			_, top := s.Steepest()
			worst := 0.0
			for fo := 0.005; fo < 4; fo += 0.005 {
				worst = max(worst, (s.Centre(fo)-s.Centre(fo+0.005))/0.005)
			}
			if worst > top || worst < 0.99*top {
				t.Errorf("%v Bi %v: steepest stretch %v, ceiling %v", shape, biot, worst, top)
			}
		}
	}
}

func TestRateMax(t *testing.T) {
	ham := Body{Shape: Cylinder, LengthM: 0.06, H: 2 * 0.48 / 0.06, K: 0.48, Diffusivity: 1.36e-7}
	ceiling := number(ham.Ceiling(110))
	near(t, "either way", number(ham.Ceiling(-110)), ceiling, 0)
	near(t, "a big piece", number(ham.RateMax(110)), 2*ceiling, 0)
	near(t, "never under half a degree", number(ham.RateMax(10)), 0.5, 0)
}

// The short formulas are within 1.5 % up to a Biot number of 1.
func TestResponse(t *testing.T) {
	for shape := Slab; shape <= Sphere; shape++ {
		for _, biot := range []float64{0.01, 0.1, 0.5, 1} {
			b := Body{Shape: shape, LengthM: 0.04, H: biot * 0.48 / 0.04, K: 0.48, Diffusivity: 1.36e-7}
			near(t, "time constant", number(b.ResponseH())/number(b.TauH()), 1, 0.015)
		}
	}
}

func TestNoSuchBody(t *testing.T) {
	good := Body{Shape: Slab, LengthM: 0.02, H: 10, K: 0.48, Diffusivity: 1.36e-7}
	if _, ok := good.TauH(); !ok {
		t.Fatal("no time constant for a plain slab")
	}
	for name, change := range map[string]func(*Body){
		"no length": func(b *Body) { b.LengthM = 0 }, "unknown": func(b *Body) { b.H = math.NaN() },
		"no diffusion": func(b *Body) { b.Diffusivity = 0 }, "no shape": func(b *Body) { b.Shape = 7 },
		"endless": func(b *Body) { b.H = math.Inf(1) },
	} {
		b := good
		change(&b)
		for what, ok := range map[string]bool{
			"hours": second(b.Hours(0.5)), "one term": second(b.HoursOneTerm(0.5)), "tau": second(b.TauH()),
			"response": second(b.ResponseH()), "ceiling": second(b.Ceiling(50)),
		} {
			if ok {
				t.Errorf("%s: %s answered", name, what)
			}
		}
	}
	for _, part := range []float64{0, 1, -1, math.NaN()} {
		if h, ok := good.Hours(part); ok {
			t.Errorf("part %v left after %v h", part, h)
		}
	}
}

func TestNoSuchFood(t *testing.T) {
	pork := Composition{Water: 0.726, Protein: 0.211, Fat: 0.05, Ash: 0.011}
	p, ok := pork.At(20)
	if !ok {
		t.Fatal("no properties of pork")
	}
	near(t, "diffusivity", p.Diffusivity(), 1.35297e-7, 5e-13)
	for name, ok := range map[string]bool{
		"too hot":         second(pork.At(150.1)),
		"too cold":        second(pork.At(-40.1)),
		"unknown":         second(pork.At(math.NaN())),
		"per cent":        second(Composition{Water: 72.6, Protein: 21.1, Fat: 5, Ash: 1.1}.At(20)),
		"a part missing":  second(Composition{Water: 0.726, Protein: 0.211}.At(20)),
		"less than none":  second(Composition{Water: 1.05, Fat: -0.05}.At(20)),
		"no number":       second(Composition{Water: math.NaN(), Fat: 1}.At(20)),
		"nothing at all":  second(Composition{}.At(20)),
		"endless mixture": second(Composition{Water: math.Inf(1)}.At(20)),
	} {
		if ok {
			t.Errorf("%s: answered", name)
		}
	}
}

func BenchmarkSurface(b *testing.B) {
	s := Surface{Air: Air{DryC: 121.1, Humidity: 0.02, PressurePa: SeaLevelPa}, H: 12, Wet: 0.3, Emission: 0.9, WallC: 121.1}
	b.ReportAllocs()
	for b.Loop() {
		s.Temperature()
	}
}

func BenchmarkSeries(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		NewSeries(Cylinder, 1.3)
	}
}
