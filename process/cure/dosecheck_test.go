package cure

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestWeighedAgainstAsked(t *testing.T) {
	for _, c := range []struct {
		name           string
		asked, weighed float64
		want, slip     Answer
	}{
		{"as asked", 4.35, 4.35, Met, Met},
		{"5 % over", 4, 4.2, Met, Met},
		{"a little more than 5 % over", 4, 4.21, NotMet, Met},
		{"6 % under", 4, 3.76, NotMet, Met},
		{"decimal point", 4.35, 43.5, NotMet, Held},
		{"decimal point the other way", 4.35, 0.44, NotMet, Held},
		{"near ten", 4.35, 40, NotMet, Held},
		{"tablespoon for teaspoon", 4.35, 13, NotMet, Held},
		{"not weighed", 4.35, 0, NotMeasured, NotMeasured},
		{"no number", 4.35, math.NaN(), NotMeasured, NotMeasured},
		{"endless", 4.35, math.Inf(1), NotMeasured, NotMeasured},
		{"nothing asked", 0, 4, NotMeasured, NotMeasured},
	} {
		if got := CheckWeighed(c.asked, c.weighed); got.Answer != c.want {
			t.Errorf("%s: %+v, want %s", c.name, got, c.want)
		}
		if got := CheckSlip(c.asked, c.weighed); got.Answer != c.slip {
			t.Errorf("%s: %+v, want %s", c.name, got, c.slip)
		}
	}
}

func TestLimit(t *testing.T) {
	rule := Limit{Rule: "bacon, dry cure", CapPPM: 200, LeastPPM: 120, NoNitrate: true, Source: "the table"}
	for ppm, want := range map[float64]Answer{0: Met, 199.9: Met, 200: Met, 200.1: NotMet, math.Inf(1): NotMeasured, -1: NotMeasured} {
		if got := rule.CheckCap(ppm); got.Answer != want || got.Rule == "" || got.Source == "" {
			t.Errorf("cap at %v ppm: %+v, want %s", ppm, got, want)
		}
	}
	exact := Limit{Rule: "bacon, pumped", CapPPM: 120, Exact: true}
	for ppm, want := range map[float64]Answer{120: Met, 125: Met, 115: Met, 126.1: NotMet, 113.9: NotMet, 0: NotMet} {
		if got := exact.CheckCap(ppm); got.Answer != want {
			t.Errorf("exact dose at %v ppm: %+v, want %s", ppm, got, want)
		}
	}
	if got := (Limit{}).CheckCap(100); got.Answer != NotMeasured {
		t.Errorf("no rule: %+v, want not measured", got)
	}
	for ppm, want := range map[float64]Answer{119: NotMet, 120: Met, math.NaN(): NotMeasured} {
		if got, ok := rule.CheckLeast(ppm); !ok || got.Answer != want {
			t.Errorf("least at %v ppm: %+v, want %s", ppm, got, want)
		}
	}
	if _, ok := (Limit{}).CheckLeast(0); ok {
		t.Error("a least was asked by no rule")
	}
	long := CuringSalt{Nitrite: 0.0625, Nitrate: 0.04}
	for _, c := range []struct {
		limit Limit
		mix   CuringSalt
		want  Answer
	}{
		{rule, long, NotMet}, {rule, CuringSalt{Nitrite: 0.0625}, Met}, {Limit{Rule: "ham"}, long, Met}, {Limit{}, long, Held},
	} {
		if got := c.limit.CheckNitrate(c.mix); got.Answer != c.want {
			t.Errorf("nitrate by %q: %+v, want %s", c.limit.Rule, got, c.want)
		}
	}
}

func TestStrength(t *testing.T) {
	for name, mix := range map[string]CuringSalt{
		"missing":            {},
		"only nitrate":       {Nitrate: 0.04},
		"percent for a part": {Nitrite: 6.25},
		"more than all":      {Nitrite: 0.0625, Salt: 0.95},
		"negative":           {Nitrite: -0.0625},
		"no number":          {Nitrite: math.NaN()},
		"salt no number":     {Nitrite: 0.0625, Salt: math.NaN()},
		"salt in percent":    {Nitrite: 0.0625, Salt: 93.75},
	} {
		if mix.Check() == nil {
			t.Errorf("%s: %+v was taken", name, mix)
		}
	}
	for part, want := range map[float64]Answer{0.0625: Met, 0.0588: Met, 0.006: Met, 0.0014: Met, 0.000625: Held, 0.5: Held, 1: Held} {
		if got := (CuringSalt{Nitrite: part}).CheckStrength(); got.Answer != want {
			t.Errorf("strength %v: %+v, want %s", part, got, want)
		}
	}
	if got := (CuringSalt{Nitrite: 0.000625}).CheckStrength(); !strings.Contains(got.Hint, "6.25 %") {
		t.Errorf("part typed as percent: hint %q does not name 6.25 %%", got.Hint)
	}
	near(t, "the rest is salt", CuringSalt{Nitrite: 0.0625, Nitrate: 0.04}.WithRest().Salt, 0.8975, 1e-12)
}

// The spread of 2.3 to 1 is that of the kitchen weighings (seen).
func TestSpoonSpread(t *testing.T) { near(t, "spread", SpoonSpread(), 2.3, 0.05) }

func TestWorst(t *testing.T) {
	for _, c := range []struct {
		answers []Answer
		want    Answer
	}{
		{nil, NotMeasured}, {[]Answer{Met, Met}, Met}, {[]Answer{Met, NotMeasured}, NotMeasured},
		{[]Answer{NotMeasured, Held}, Held}, {[]Answer{Held, NotMet, Met}, NotMet},
	} {
		var checks []Check
		for _, a := range c.answers {
			checks = append(checks, Check{Answer: a})
		}
		if got := Worst(checks); got != c.want {
			t.Errorf("%v comes to %s, want %s", c.answers, got, c.want)
		}
	}
}

func TestScale(t *testing.T) {
	for asked, want := range map[float64]Answer{4.35: Met, 1: Met, 0.9: Held, 0: Held, math.NaN(): Held} {
		if got := CheckScale(asked); got.Answer != want {
			t.Errorf("%v g: %+v, want %s", asked, got, want)
		}
	}
}

var strong = CuringSalt{Nitrite: 0.0625, Salt: 0.9375}

// 5 lb of belly: 4.4 g is 120 ppm, 5.7 g is 156, 7.3 g is 200 of a 6.25 % cure
// (seen, the arithmetic of the trade); skin on, 0.9 of it.
func TestPortionOfABelly(t *testing.T) {
	for ppm, want := range map[float64]float64{120: 4.4, 156: 5.7, 200: 7.3} {
		r := Recipe{Method: Dry, Mix: strong, PPM: ppm, SaltPart: 0.025, MeatWater: 0.5}
		p, err := r.Asked(2268, false)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "curing salt, g", p.CureG, want, 0.05)
		near(t, "ppm", p.PPM, ppm, 1e-9)
		near(t, "salt, %", p.SaltPct, 2.5, 1e-9)
		near(t, "water-phase salt, %", p.WPSPct, 100*2.5/52.5, 1e-9)
		skin, err := r.Asked(2268, true)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "skin on", skin.CureG, 0.9*p.CureG, 1e-9)
		near(t, "ppm of what counts", skin.PPM, ppm, 1e-9)
	}
}

// The 2 % brine of the published doses (D11 to D14), with all solids in the pickle
// that counts: the meat ends under the 2 %.
func TestPortionInABrine(t *testing.T) {
	r := Recipe{Method: Immersed, Mix: strong, PPM: 120, SaltPart: 0.02, WaterG: 1500, MeatWater: 0.74}
	p, err := r.Asked(2000, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "all salt, g", p.SaltG+0.9375*p.CureG, 70, 1e-9)
	near(t, "salt of the meat, %", p.SaltPct, 1.70855597, 1e-6)
	near(t, "ppm on meat and pickle", 1e6*0.0625*p.CureG/(2000+1500+p.SaltG+p.CureG), 120, 1e-9)
}

// 3 lb of cure in 150 lb of pickle at 10 %: 125 ppm (D21).
func TestPortionPumped(t *testing.T) {
	r := Recipe{Method: Pumped, Mix: strong, PickleG: 150, Uptake: 0.1, MeatWater: 0.5}
	p, err := r.Weighed(1000, 3, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ppm", p.PPM, 125, 1e-9)
	near(t, "salt, %", p.SaltPct, 100*0.9375*3/150*0.1, 1e-9)
}

// What was asked, weighed, gives what was asked, by every method, skin on or off;
// ten times as much gives more, and the cap does not say met for it.
func TestPortionThereAndBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := Recipe{
			Method:   rapid.SampledFrom([]Method{Dry, Comminuted, Pumped, PickedUp, Immersed}).Draw(rt, "method"),
			Mix:      CuringSalt{Nitrite: rapid.Float64Range(0.004, 0.07).Draw(rt, "nitrite")}.WithRest(),
			PPM:      rapid.Float64Range(50, 625).Draw(rt, "ppm"),
			SaltPart: rapid.Float64Range(0, 0.05).Draw(rt, "salt"),
			WaterG:   1500, PickleG: 4000, Uptake: 0.12, MeatWater: 0.5,
		}
		green := rapid.Float64Range(100, 20000).Draw(rt, "green")
		skin := rapid.Bool().Draw(rt, "skin")
		asked, err := r.Asked(green, skin)
		if err != nil {
			rt.Fatal(err)
		}
		again, err := r.Weighed(green, asked.CureG, skin)
		if err != nil || math.Abs(again.PPM-r.PPM) > 1e-6*r.PPM || math.Abs(again.SaltPct-asked.SaltPct) > 1e-9 {
			rt.Fatalf("asked %+v, weighed %+v, %v", asked, again, err)
		}
		much, err := r.Weighed(green, 10*asked.CureG, skin)
		if err != nil || !(much.PPM > 1.5*r.PPM) || (Limit{CapPPM: r.PPM}).CheckCap(much.PPM).Answer != NotMet {
			rt.Fatalf("ten times: %+v, %v", much, err)
		}
	})
}

func TestRecipeRefusals(t *testing.T) {
	good := Recipe{Method: Dry, Mix: strong, PPM: 120, SaltPart: 0.025, MeatWater: 0.5}
	for name, change := range map[string]func(*Recipe){
		"no strength":     func(r *Recipe) { r.Mix = CuringSalt{} },
		"no number":       func(r *Recipe) { r.PPM = math.NaN() },
		"salt in percent": func(r *Recipe) { r.SaltPart = 2.5 },
		"water missing":   func(r *Recipe) { r.MeatWater = 0 },
		"no brine":        func(r *Recipe) { r.Method = Immersed },
		"no pickle":       func(r *Recipe) { r.Method, r.Uptake = Pumped, 0.1 },
		"unknown method":  func(r *Recipe) { r.Method = "spoon" },
		"too many ppm":    func(r *Recipe) { r.Method, r.WaterG, r.PPM = Immersed, 1, 1e6 },
	} {
		r := good
		change(&r)
		if p, err := r.Asked(2268, false); err == nil {
			t.Errorf("%s: %+v", name, p)
		}
		if p, err := r.Weighed(2268, 4, false); err == nil && name != "too many ppm" {
			t.Errorf("%s, weighed: %+v", name, p)
		}
	}
	for _, green := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if p, err := good.Asked(green, false); err == nil {
			t.Errorf("green weight %v: %+v", green, p)
		}
	}
}
