package heat

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"flitch/testdata/published"
)

// A roast is meat of a test's own making: slab, cylinder or sphere, wind and
// radiation apart, and a surface that dries exponentially. Its solver is not the
// ensemble's: other cells, other drying, bisection at the surface.
type roast struct {
	shape                    float64 // 0 slab, 1 cylinder, 2 sphere
	halfM, alpha, h, emits   float64
	humidity, wet0, wetLast  float64
	dryLoss                  float64 // part of the mass lost at which the wet part has fallen by e
	setC, warmMin, noise, ar float64
}

func someRoast(r *rand.Rand) roast {
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	return roast{
		shape: float64(r.IntN(3)), halfM: in(0.03, 0.065), alpha: in(1.25e-7, 1.45e-7), h: in(8, 20), emits: in(0.3, 0.9),
		humidity: in(0.012, 0.03), wet0: in(0.1, 0.6), wetLast: in(0.01, 0.05), dryLoss: 0.1,
		setC: in(105, 125), warmMin: in(15, 40), noise: 0.15, ar: 0.7,
	}
}

// cook is the roast each minute, with the truth of the core.
func (b roast) cook(r *rand.Rand, minutes int) (measured []Minute, truth []float64) {
	const n = 24
	var t [n]float64
	for i := range t {
		t[i] = 4
	}
	const k = 0.48
	mass := 1070 * b.halfM / (b.shape + 1) // kg/m² of surface
	dx, lost, drift := b.halfM/n, 0.0, 0.0
	sub := math.Ceil(60 / (0.3 * dx * dx / b.alpha))
	area := func(x float64) float64 { return math.Pow(x, b.shape) }
	for m := range minutes {
		air := b.setC - (b.setC-22)*math.Exp(-float64(m)/b.warmMin) + 2*math.Sin(float64(m)/13)
		drift = b.ar*drift + b.noise*math.Sqrt(1-b.ar*b.ar)*r.NormFloat64()
		measured = append(measured, Minute{Min: float64(m), ChamberC: math.Round(4*air) / 4, CoreC: math.Round(10*(t[0]+drift)) / 10})
		truth = append(truth, t[0])
		for range int(sub) {
			wet := b.wetLast + (b.wet0-b.wetLast)*math.Exp(-lost/(b.dryLoss*mass))
			surface, water := b.surface(air, wet, t[n-1], 2*k/dx)
			lost += water * 60 / sub
			flow := 0.0
			for i := range n {
				out := 2 * area(1) * (surface - t[i])
				if i < n-1 {
					out = area(float64(i+1)/n) * (t[i+1] - t[i])
				}
				volume := (math.Pow(float64(i+1)/n, b.shape+1) - math.Pow(float64(i)/n, b.shape+1)) * n / (b.shape + 1)
				t[i] += 60 / sub * b.alpha / (dx * dx) * (out - flow) / volume
				flow = out
			}
		}
	}
	return measured, truth
}

// surface bisects the balance and returns also the water that leaves, kg/(m² s).
func (b roast) surface(air, wet, inside, conduct float64) (tC, water float64) {
	flux := func(t float64) float64 {
		vapour := SeaLevelPa * b.humidity / (0.622 + b.humidity)
		return wet * b.h / (1040 * 0.894) * 0.622 * math.Log((SeaLevelPa-vapour)/(SeaLevelPa-saturation(t)))
	}
	lo, hi := 0.0, 99.8
	for range 30 {
		t := (lo + hi) / 2
		radiant := b.emits * 5.67e-8 * (math.Pow(air+273.15, 4) - math.Pow(t+273.15, 4))
		if b.h*(air-t)+radiant-flux(t)*(2.5e6-2361*t) > conduct*(t-inside) {
			lo = t
		} else {
			hi = t
		}
	}
	return lo, max(0, flux(lo))
}

// covered is how forecasts did at parts of a cook.
type covered struct {
	asked, held int
	off         []float64 // of the best figure, minutes
}

var coverageParts = [...]float64{0.3, 0.5, 0.7, 0.85}

// coverage forecasts fresh cooks to 63 °C, of meat that dries out at a loss of mass
// between two parts.
func coverage(t *testing.T, cooks int, dryFrom, dryTo float64) (out [len(coverageParts)]covered) {
	t.Helper()
	const targetC = 63
	r := rand.New(rand.NewPCG(20250611, 7))
	for made := 0; made < cooks; {
		b := someRoast(r)
		b.dryLoss = dryFrom + (dryTo-dryFrom)*r.Float64()
		measured, truth := b.cook(r, 900)
		done := slices.IndexFunc(truth, func(c float64) bool { return c >= targetC })
		if done < 150 {
			continue // never there in 15 hours, or too short to forecast
		}
		made++
		e, next := NewCookEnsemble(0), 0
		for _, m := range measured[:done] {
			e.Advance(m)
			if next == len(out) || m.Min < coverageParts[next]*float64(done) {
				continue
			}
			o, ok := e.Outlook(targetC, false)
			if !ok {
				t.Fatalf("no outlook at minute %v", m.Min)
			}
			left := float64(done) - m.Min
			c := &out[next]
			c.asked++
			if left >= o.Early.Min && (o.Late.Never || left <= o.Late.Min) {
				c.held++
			}
			c.off = append(c.off, math.Abs(o.Point.Min-left))
			next++
		}
	}
	return out
}

// TestCookCoverage asks how often the truth lies in the 80 % interval, on cooks made
// by another solver: meat that dries after 4 to 20 per cent of its mass, and meat that
// is dry after 1 to 4, sooner than any piece of the ensemble. The range of wetness was
// widened downwards after the second kind had been forecast far too late (0, 3, 5, 7
// of 10); nothing else was chosen on these cooks. It does not show that the interval
// is right for real meat: conduction with one diffusivity, the balance of the surface
// and the noise are the same kind on both sides.
func TestCookCoverage(t *testing.T) {
	for _, c := range []struct {
		cooks    int
		from, to float64
		least    float64 // share, one deviation of so few cooks under 80 %
	}{{30, 0.04, 0.20, 0.73}, {10, 0.01, 0.04, 0.6}} {
		for i, got := range coverage(t, c.cooks, c.from, c.to) {
			share := float64(got.held) / float64(got.asked)
			t.Logf("dry after %.0f to %.0f %%, at %.0f %% of the cook: 80 %% interval covers %d of %d, median error %.0f min",
				100*c.from, 100*c.to, 100*coverageParts[i], got.held, got.asked, median(got.off))
			if share < c.least {
				t.Errorf("dry after %.0f to %.0f %%, at %.0f %% of the cook: the 80 %% interval covers %.0f %%, want at least %.0f %%",
					100*c.from, 100*c.to, 100*coverageParts[i], 100*share, 100*c.least)
			}
		}
	}
}

// The surface of a piece against the published balance without radiation, when the
// meat is as warm as its surface.
func TestPieceSurface(t *testing.T) {
	table, err := published.Read("evap_surface.csv")
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, row := range table.Rows {
		if row.Num(t, "emissivity_F") != 0 {
			continue
		}
		in := newDryness().around(row.Num(t, "T_db_C"), row.Num(t, "W_kg_per_kg"))
		p := piece{biot: 2, wet: row.Num(t, "wetness"), surfaceC: 20}
		for range 500 {
			p.surfaceC, _ = p.surface(&in)
			p.tempC[cells-1] = p.surfaceC
		}
		near(t, row.Where(), p.surfaceC, row.Num(t, "T_surface_C"), 0.02)
		compared++
	}
	if compared < 10 {
		t.Errorf("only %d rows compared", compared)
	}
}

// Dry pieces in even air follow the series of the cylinder: the cells and the step
// are fine enough. The middle cell is the mean of the inner twelfth, not the middle.
func TestPieceConduction(t *testing.T) {
	l := newLaw(DefaultHumidity)
	p := piece{perHour: 0.2, biot: 1, dryLoss: 1}
	p.begin(&l, 0)
	in := l.over.around(100, 0.02)
	p.advance(&l, &in, 0, 300)
	const zeta, c1 = 1.2558, 1.2071 // textbook anchors for a cylinder at Bi 1
	want := 100 * (1 - c1*math.Exp(-zeta*zeta*0.2*5))
	near(t, "middle after 5 h", p.core(), want, 0.3)
	if at, ok := p.firstAt(levelOf(p.core())); !ok || math.Abs(at-300) > 0.01 {
		t.Errorf("first there at %v %v, want 300", at, ok)
	}
}

// 1000 pieces fill their space evenly: the mean of each dimension is its middle.
func TestHalton(t *testing.T) {
	for _, base := range []int{2, 3, 5, 7, 11} {
		sum := 0.0
		for n := 1; n <= members; n++ {
			sum += halton(n, base)
		}
		near(t, "mean", sum/members, 0.5, 0.01)
	}
	near(t, "6 in base 2", halton(6, 2), 0.375, 1e-15)
	near(t, "5 in base 3", halton(5, 3), 7.0/9, 1e-15)
}

// Tempering keeps forty pieces in play, whatever was measured.
func TestTempering(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	measured, _ := someRoast(r).cook(r, 240)
	e := NewCookEnsemble(0)
	for _, m := range measured {
		e.Advance(m)
		sum, squares := 0.0, 0.0
		for _, w := range e.weight {
			sum, squares = sum+w, squares+w*w
		}
		if ess := sum * sum / squares; ess < leastESS-1e-6 {
			t.Fatalf("minute %v: %v pieces count", m.Min, ess)
		}
	}
}

func TestOutlookEnds(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	measured, _ := someRoast(r).cook(r, 200)
	e := NewCookEnsemble(0)
	for _, m := range measured[:20] {
		e.Advance(m)
	}
	if o, ok := e.Outlook(63, false); ok {
		t.Errorf("after 20 minutes: %+v", o)
	}
	for _, m := range measured[20:] {
		e.Advance(m)
	}
	now := measured[199].CoreC
	if o, ok := e.Outlook(now-5, false); !ok || o.Point.Min != 0 || o.Late.Min != 0 || o.NotToday != 0 {
		t.Errorf("passed already: %+v %v", o, ok)
	}
	if o, ok := e.Outlook(130, false); !ok || !o.Point.Never || o.NotToday != 1 {
		t.Errorf("hotter than the chamber: %+v %v", o, ok)
	}
	near3, ok1 := e.Outlook(now+3, false)
	stalled, ok2 := e.Outlook(now+3, true)
	if !ok1 || !ok2 || !near3.Straight || stalled.Straight || near3.Early != stalled.Early {
		t.Errorf("near the end %+v, stalled %+v", near3, stalled)
	}
	hotter, _ := e.OutlookIn(75, 130, false)
	cooler, _ := e.OutlookIn(75, 110, false)
	if hotter.Point.Never || !cooler.Point.Never && hotter.Point.Min >= cooler.Point.Min {
		t.Errorf("130 °C %+v, 110 °C %+v: hotter must be sooner", hotter, cooler)
	}
}

func TestEnsembleJSONRefuses(t *testing.T) {
	for _, text := range []string{`{"minute":[1,2],"chamber":[1]}`, `[]`, `{`} {
		if err := json.Unmarshal([]byte(text), new(Ensemble)); err == nil {
			t.Errorf("%s was taken", text)
		}
	}
}

func TestEnsembleKeeps(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	measured, _ := someRoast(r).cook(r, 120)
	measured[70].Flags = BadCore
	a := NewCookEnsemble(0.015)
	for _, m := range measured[:90] {
		a.Advance(m)
	}
	text, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	b := new(Ensemble)
	if err := json.Unmarshal(text, b); err != nil {
		t.Fatal(err)
	}
	for _, m := range measured[90:] {
		a.Advance(m)
		b.Advance(m)
	}
	x, ok1 := a.Outlook(63, false)
	y, ok2 := b.Outlook(63, false)
	if !ok1 || !ok2 || x != y {
		t.Errorf("%+v %v, from JSON %+v %v", x, ok1, y, ok2)
	}
}

func BenchmarkEnsembleMinute(b *testing.B) {
	e := NewCookEnsemble(0)
	m := Minute{Min: 0, ChamberC: 110, CoreC: 5}
	b.ReportAllocs()
	for b.Loop() {
		m.Min++
		m.CoreC = min(60, m.CoreC+0.1)
		e.Advance(m)
	}
}

func BenchmarkEnsembleMinuteWithOutlook(b *testing.B) {
	e := NewCookEnsemble(0)
	r := rand.New(rand.NewPCG(3, 3))
	measured, _ := someRoast(r).cook(r, 900)
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		if i++; i == 600 {
			e, i = NewCookEnsemble(0), 0
		}
		e.Advance(measured[i])
		e.Outlook(63, false)
	}
}
