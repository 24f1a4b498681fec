package growth

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

func mustNew(t testing.TB, code string, c Conditions) *Model {
	t.Helper()
	m, err := New(code, c)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The summed rate against Gauss-Legendre quadrature of the rate
// (gonum.org/v1/gonum/integrate/quad), in pieces of a fifth of a kelvin.
func TestSegmentAgainstQuadrature(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(rt *rapid.T) {
		m := mustNew(t, rapid.SampledFrom(Codes()).Draw(rt, "model"), Conditions{})
		v1 := rapid.Float64Range(-5, 70).Draw(rt, "v1")
		v2 := rapid.Float64Range(-5, 70).Draw(rt, "v2")
		a, b := max(min(v1, v2), m.law.min), min(max(v1, v2), m.law.max)
		want := 0.0
		if a < b {
			n := int(math.Ceil((b - a) * 5))
			step := (b - a) / float64(n)
			for i := range n {
				want += quad.Fixed(m.Rate, a+float64(i)*step, a+float64(i+1)*step, 8, quad.Legendre{}, 0)
			}
			want /= math.Abs(v2 - v1)
		}
		got := m.Segment(v1, v2, 1)
		worst = max(worst, math.Abs(got-want))
		if math.Abs(got-want) > 2e-5*(1+want) {
			rt.Fatalf("%s: Segment(%v, %v, 1) = %v, quadrature %v", m.Code, v1, v2, got, want)
		}
	})
	t.Logf("worst difference %.2g ln/h", worst)
}

// The closed form against the differential equations of Baranyi and Roberts,
// solved by Runge-Kutta steps over a warming and a cooling.
func TestClosedFormAgainstTheEquations(t *testing.T) {
	m := mustNew(t, "CP_PORK", Conditions{})
	p := Population{StartLog: 3, MaxLog: 8.5}
	top := (p.MaxLog - p.StartLog) * math.Ln10
	temp := func(h float64) float64 { return 30 + 22*math.Sin(h/2) }
	deriv := func(h, lnq, y float64) (float64, float64) {
		mu := m.Rate(temp(h))
		return mu, mu / (1 + math.Exp(-lnq)) * -math.Expm1(y-top)
	}
	const dt = 0.001
	lnq, y, s := -math.Log(math.Expm1(m.Decides.H0)), 0.0, Sum{}
	for i := range 12000 {
		h := float64(i) * dt
		a1, b1 := deriv(h, lnq, y)
		a2, b2 := deriv(h+dt/2, lnq+a1*dt/2, y+b1*dt/2)
		a3, b3 := deriv(h+dt/2, lnq+a2*dt/2, y+b2*dt/2)
		a4, b4 := deriv(h+dt, lnq+a3*dt, y+b3*dt)
		lnq += dt * (a1 + 2*a2 + 2*a3 + a4) / 6
		y += dt * (b1 + 2*b2 + 2*b3 + b4) / 6
		s.Add(m, temp(h), temp(h+dt), dt, 1)
		if i%1000 == 999 {
			near(t, "growth", DeltaLog(s.M, m.Decides.H0, p), y/math.Ln10, 2e-5)
		}
	}
	if s.M < 10 {
		t.Errorf("only %v grew: the check is too easy", s.M)
	}
}

func TestDeltaLogAtItsEnds(t *testing.T) {
	p := Population{StartLog: 3, MaxLog: 8.5}
	for _, c := range []struct {
		name        string
		m, h0, want float64
		p           Population
	}{
		{"nothing", 0, 0, 0, p},
		{"no lag, no end", math.Ln10, 0, 1, Unlimited()},
		{"lag far behind", 1000, 4, 996 / math.Ln10, Unlimited()},
		{"at the end", 1000, 4, 5.5, p},
		{"at the end without lag", 100, 0, 5.5, p},
		{"starts full", 10, 0, 0, Population{StartLog: 9, MaxLog: 8.5}},
		{"no number", math.NaN(), 0, 0, p},
	} {
		near(t, c.name, DeltaLog(c.m, c.h0, c.p), c.want, 1e-9)
	}
	near(t, "just below and above the far end", DeltaLog(far-1e-9, 3, Unlimited()), DeltaLog(far+1e-9, 3, Unlimited()), 1e-6)
}

// Cutting a segment in two changes a sum by no more than the rule of integration
// is off; more time and more lag go the right way.
func TestSumsDoNotDependOnCutting(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := mustNew(t, rapid.SampledFrom(Codes()).Draw(rt, "model"), Conditions{})
		v1 := rapid.Float64Range(-5, 60).Draw(rt, "v1")
		v2 := rapid.Float64Range(-5, 60).Draw(rt, "v2")
		cut := rapid.Float64Range(0.01, 0.99).Draw(rt, "cut")
		vm := v1 + (v2-v1)*cut
		var whole, parts Sum
		whole.Add(m, v1, v2, 3, 5)
		parts.Add(m, v1, vm, 3*cut, 5)
		parts.Add(m, vm, v2, 3*(1-cut), 5)
		if math.Abs(whole.M-parts.M) > 1e-4*(1+whole.M) {
			rt.Fatalf("%s: whole %v, in two parts %v", m.Code, whole.M, parts.M)
		}
		if whole.M > 3*m.Fastest(v1, v2)*(1+1e-9) {
			rt.Fatalf("%s: %v is more than the fastest rate gives", m.Code, whole.M)
		}
		if DeltaLog(whole.M, 3, Unlimited()) > DeltaLog(whole.M, 0, Unlimited())+1e-12 {
			rt.Fatalf("lag helped growth at %v", whole.M)
		}
	})
}

func TestMissingDataGrowsAsTheWorst(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, code := range Codes() {
		m := mustNew(t, code, Conditions{})
		worst := m.Rate(m.law.worst)
		for _, c := range []struct {
			name       string
			v1, v2, dt float64
			want       float64
		}{
			{"an unknown end", nan, 3, 2, 2 * worst},
			{"another", 3, nan, 2, 2 * worst},
			{"no end known", inf, -inf, 2, 2 * worst},
			{"both ends too cold", -20, -10, 2, 0},
			{"no time", 30, 30, 0, 0},
			{"time runs back", 30, 30, -1, 0},
			{"time is no number", 30, 30, nan, 0},
			{"endless time", 30, 30, inf, 0},
		} {
			var s Sum
			s.Add(m, c.v1, c.v2, c.dt, 1)
			near(t, code+": "+c.name, s.M, c.want, 1e-9)
			near(t, code+": "+c.name+", unseen", s.GapM, c.want, 1e-9)
		}
		for v := -20.0; v < 45; v += 0.1 {
			if m.Rate(v) > worst*(1+1e-12) {
				t.Errorf("%s grows faster at %.1f °C than at its worst, %.2f °C", code, v, m.law.worst)
			}
		}
		var seen, gap Sum
		seen.Add(m, 60, 4, 1, 1)
		gap.Add(m, 60, 4, 1, 0.5)
		if gap.M <= seen.M || gap.GapM != gap.M || seen.GapM != 0 {
			t.Errorf("%s: from 60 to 4 °C seen %+v, unseen %+v", code, seen, gap)
		}
	}
}

// What is not known of the food never slows growth down.
func TestUnknownConditionsAreTheStrictest(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		code := rapid.SampledFrom(Codes()).Draw(rt, "model")
		some := func(name string, most float64) float64 { return rapid.Float64Range(0, most).Draw(rt, name) }
		c := Conditions{SaltPct: some("salt", 10), Aw: some("aw", 1), PH: some("pH", 9), NitritePPM: some("nitrite", 400),
			PhenolPPM: some("phenol", 40), CO2PPM: some("co2", 4000), LacticMM: some("lactic", 5), DiacetateMM: some("diacetate", 6), AceticMM: some("acetic", 12)}
		known, unknown := mustNew(t, code, c), mustNew(t, code, Conditions{})
		for v := 0.0; v <= 45; v += 5 {
			if r := known.Rate(v); !(r >= 0) || r > unknown.Rate(v)*(1+1e-12) {
				rt.Fatalf("%s at %v °C: %v, of unknown food %v", code, v, r, unknown.Rate(v))
			}
		}
	})
}

func TestConditionsThatCannotBeAreErrors(t *testing.T) {
	for _, c := range []Conditions{{Aw: 1.2}, {Aw: -0.1}, {PH: 15}, {PH: math.NaN()}, {SaltPct: 40}, {NitritePPM: -1}, {PhenolPPM: math.Inf(1)}} {
		if m, err := New("LM_GAMMA", c); err == nil {
			t.Errorf("%+v gives %+v", c, m)
		}
	}
	if m, err := New("CP_TURKEY", Conditions{}); err == nil {
		t.Errorf("an unknown code gives %+v", m)
	}
}

// Printed with the formula (Le Marc et al. 2008, read in a transcription).
func TestWaterActivity(t *testing.T) {
	for n, want := range map[float64]float64{0: 1, 1: 0.99463, 2: 0.98902, 3: 0.98316, 4: 0.97706} {
		near(t, "water activity", WaterActivity(n), want, 5.1e-6)
	}
	cold := mustNew(t, "CP_LM08", Conditions{SaltPct: 4.3})
	near(t, "growth over 4.25 % salt", cold.Rate(40), 0, 0)
	near(t, "growth at pH 4.7", mustNew(t, "CP_LM08", Conditions{PH: 4.7}).Rate(40), 0, 0)
}

func TestEveryModelIsWhole(t *testing.T) {
	if len(Codes()) != 10 {
		t.Errorf("%d models: %v", len(Codes()), Codes())
	}
	for _, code := range Codes() {
		m := mustNew(t, code, Conditions{})
		if m.Code != code || m.Organism == "" || m.Food == "" || m.Source == "" || m.Provenance == "" || m.Bands.Source == "" || m.Decides.Source == "" {
			t.Errorf("%s: not whole: %+v", code, m)
		}
		if (m.Beside.Name == "") != (m.Beside.Source == "") {
			t.Errorf("%s: lag beside: %+v", code, m.Beside)
		}
		if !m.Extrapolates(m.FromC-1) || !m.Extrapolates(m.ToC+1) || m.Extrapolates((m.FromC+m.ToC)/2) || !m.Extrapolates(math.NaN()) {
			t.Errorf("%s: range %v to %v", code, m.FromC, m.ToC)
		}
	}
}

func TestBands(t *testing.T) {
	for _, c := range []struct {
		name  string
		bands Bands
		delta float64
		want  Level
	}{
		{"little", PerfringensBands(), 0.49, Green}, {"half a log", PerfringensBands(), 0.5, Amber}, {"the standard", PerfringensBands(), 1, Red},
		{"below the purpose", AureusBands(), 1.99, Green}, {"over it", AureusBands(), 2, Amber}, {"toxin", AureusBands(), 3, Red},
		{"less than a doubling", ListeriaBands(), 0.3, Green}, {"a doubling", ListeriaBands(), 0.302, Note}, {"a log", ListeriaBands(), 1, Red},
		{"acceptable", SalmonellaBands(), 1, Green}, {"more", SalmonellaBands(), 1.001, Red}, {"no number", AureusBands(), math.NaN(), Red},
	} {
		if got := c.bands.Level(c.delta); got != c.want {
			t.Errorf("%s: %v is %s, want %s", c.name, c.delta, got, c.want)
		}
	}
}

func TestPerfringensBranch(t *testing.T) {
	for _, c := range []struct {
		species     string
		nitrite     float64
		accelerator bool
		want        string
	}{
		{"pork", 120, true, "CP_CURED"}, {"pork", 100, true, "CP_CURED"}, {"pork", 99.9, true, "CP_LM08"}, {"pork", 200, false, "CP_LM08"},
		{"pork", 49, true, "CP_PORK"}, {"chicken", 0, false, "CP_CHICKEN"}, {"beef", 0, false, "CP_BEEF"}, {"goose", 0, false, "CP_BEEF"}, {"", math.NaN(), true, "CP_BEEF"},
	} {
		if got := PerfringensCode(c.species, c.nitrite, c.accelerator); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

// A batch of weeks has a million segments.
func TestSegmentsDoNotAllocate(t *testing.T) {
	m := mustNew(t, "CP_BEEF", Conditions{})
	var s Sum
	var d DegreeHours
	if n := testing.AllocsPerRun(100, func() {
		s.Add(m, 50, 12, 0.5, 1)
		s.Add(m, math.NaN(), 12, 0.5, 1)
		d.Add(60, 75, 80, 0.5, 1)
		s.DeltaLog(m)
	}); n != 0 {
		t.Errorf("%v allocations per segment, want 0", n)
	}
}

func BenchmarkSegment(b *testing.B) {
	m := mustNew(b, "CP_BEEF", Conditions{})
	var s Sum
	b.ReportAllocs()
	for b.Loop() {
		s.Add(m, 37.2, 37.3, 0.001, 1)
	}
}
