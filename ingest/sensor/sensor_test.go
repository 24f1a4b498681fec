package sensor

import (
	"math"
	"strings"
	"testing"
)

func spec(t testing.TB, s Spec) Conversion {
	t.Helper()
	c, err := s.Conversion()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func curve(t testing.TB) SteinhartHart {
	t.Helper()
	s, err := Beta(10_000, 3950)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// all are one of each sensor as a board may have it.
func all(t testing.TB) map[string]Conversion {
	divider := Divider{SeriesOhm: 10_000, FullScale: 4095}
	high := divider
	high.HighSide = true
	return map[string]Conversion{
		"ohms":   spec(t, Spec{Kind: NTC, Curve: curve(t)}),
		"counts": spec(t, Spec{Kind: NTC, Curve: curve(t), Divider: divider}),
		"high":   spec(t, Spec{Kind: NTC, Curve: curve(t), Divider: high}),
		"pt100":  spec(t, Spec{Kind: Pt100, LeadOhm: 0.78}),
		"pt1000": spec(t, Spec{Kind: Pt1000}),
		"mv":     spec(t, Spec{Kind: ThermocoupleK, ColdC: 25}),
		"linear": spec(t, Spec{Kind: ThermocoupleK, ColdAt: "/board", Linear: true}),
	}
}

func TestWhatIsNoTemperature(t *testing.T) {
	sensors := all(t)
	for _, c := range []struct {
		sensor     string
		sent, cold float64
		want       string
	}{
		{"counts", 0, 0, "0 counts: a short circuit"}, {"counts", 2, 0, "a short circuit"}, {"counts", 4093, 0, "open"}, {"counts", 4095, 0, "open"},
		{"counts", 4096, 0, "outside 0 to 4095"}, {"counts", -1, 0, "outside 0 to 4095"}, {"counts", 3, 0, "hotter than 300 °C"}, {"counts", 4090, 0, "colder than -60 °C"},
		{"high", 1, 0, "open"}, {"high", 4094, 0, "a short circuit"}, {"high", math.NaN(), 0, "outside"},
		{"ohms", 0, 0, "short"}, {"ohms", -5, 0, "short"}, {"ohms", 1e8, 0, "open"}, {"ohms", math.Inf(1), 0, "open"}, {"ohms", math.NaN(), 0, "short"}, {"ohms", 3, 0, "hotter"},
		{"pt100", 0, 0, "short"}, {"pt100", 1e6, 0, "open"}, {"pt1000", 100, 0, "colder than -200"}, {"pt100", math.NaN(), 0, "short"},
		{"mv", 80, 25, "open"}, {"mv", -80, 25, "open"}, {"mv", 1, math.NaN(), "cold junction"}, {"mv", 1, 300, "cold junction says 300 °C"}, {"mv", math.NaN(), 20, "open"},
		{"linear", 2000, 25, "2000 °C is outside"}, {"linear", 60, -60, "cold junction"},
	} {
		tC, why := sensors[c.sensor](c.sent, c.cold)
		if !math.IsNaN(tC) || !strings.Contains(why, c.want) {
			t.Errorf("%s sends %g: %g °C, %q; want %q", c.sensor, c.sent, tC, why, c.want)
		}
	}
}

// The nominal beta is off where the project's tables say it is, and by so much.
func TestBetaFarFrom25(t *testing.T) {
	s := curve(t)
	for _, c := range []struct{ ohm, tC, off float64 }{{97006.9, -20, 1.35}, {32650.9, 0, 0.55}, {917.7, 90, 0.57}, {680, 100, 0.90}} {
		if got, why := s.TempC(c.ohm); why != "" || math.Abs(got-c.tC-c.off) > 0.005 {
			t.Errorf("%g Ω: %.3f °C %s, want %.2f off", c.ohm, got, why, c.off)
		}
	}
}

func TestLeadsAndChips(t *testing.T) {
	bare, wired := spec(t, Spec{Kind: Pt100}), all(t)["pt100"]
	plain, _ := bare(100.78, 0)
	right, _ := wired(100.78, 0)
	if math.Abs(right) > 1e-9 || math.Abs(plain-2) > 0.01 {
		t.Errorf("two wires of 0.39 Ω at 0 °C: %.3f, and with them known %.3f °C", plain, right)
	}
	linear := all(t)["linear"]
	for _, c := range []struct{ says, cold, off float64 }{{4, 25, 0.5}, {135, 18, -0.4}, {247, 30, -3}} {
		if tC, why := linear(c.says, c.cold); why != "" || math.Abs(c.says-tC-c.off) > 0.25 {
			t.Errorf("a chip that says %g: %.2f °C %s, want it %.1f off", c.says, tC, why, c.off)
		}
	}
	if mV, ok := ThermocoupleMV(2000); ok || !math.IsNaN(mV) {
		t.Error("2000 °C of type K")
	}
	if ohm, ok := PlatinumOhm(100, -201); ok || !math.IsNaN(ohm) {
		t.Error("-201 °C of platinum")
	}
}

func TestSpecsThatAreRefused(t *testing.T) {
	beta := func(r25, b float64) error { _, err := Beta(r25, b); return err }
	points := func(p ...Point) error { _, err := ThreePoints([3]Point(p)); return err }
	of := func(s Spec) error { _, err := s.Conversion(); return err }
	good := curve(t)
	for want, err := range map[string]error{
		"0 Ω at 25 °C":                  beta(0, 3950),
		"a beta of NaN K":               beta(1e4, math.NaN()),
		"less than 5 K apart":           points(Point{0, 32650}, Point{25, 10000}, Point{26, 9600}),
		"the colder has the higher":     points(Point{0, 10000}, Point{25, 32650}, Point{60, 2488}),
		"no point of a thermistor":      points(Point{0, -3}, Point{25, 10000}, Point{60, 2488}),
		"would rise":                    of(Spec{Kind: NTC, Curve: SteinhartHart{1e-3, -2e-4, 0}}),
		"no resistance from":            of(Spec{Kind: NTC, Curve: SteinhartHart{1, 2e-4, 1e-7}}),
		"are no numbers":                of(Spec{Kind: NTC, Curve: SteinhartHart{math.Inf(1), 2e-4, 1e-7}}),
		"a series resistor of 0 Ω":      of(Spec{Kind: NTC, Curve: good, Divider: Divider{FullScale: 1023}}),
		"a full scale of 3 counts":      of(Spec{Kind: NTC, Curve: good, Divider: Divider{SeriesOhm: 1e4, FullScale: 3}}),
		"wires of -1 Ω":                 of(Spec{Kind: Pt100, LeadOhm: -1}),
		"cold junction at 200 °C":       of(Spec{Kind: ThermocoupleK, ColdC: 200}),
		"\"thermocouple-j\" is no sens": of(Spec{Kind: "thermocouple-j"}),
	} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	if _, ok := ToleranceC("C", 0); ok {
		t.Error("class C")
	}
}

// Whatever a board sends, there is a temperature that its kind can have, or a reason.
func FuzzConversions(f *testing.F) {
	sensors := all(f)
	for _, v := range []float64{0, 1, 2048, 10_000, 100, 1385.055, 4.096, -5, 4095, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 5e-324} {
		f.Add(v, 25.0)
		f.Add(25.0, v)
	}
	f.Fuzz(func(t *testing.T, sent, cold float64) {
		for name, convert := range sensors {
			tC, why := convert(sent, cold)
			if ok := why == ""; ok == math.IsNaN(tC) || ok && !(tC >= -201 && tC <= 1373) {
				t.Errorf("%s sends %g beside %g: %g °C, %q", name, sent, cold, tC, why)
			}
		}
	})
}

// Any three points that make a curve give back their own temperatures.
func FuzzThreePoints(f *testing.F) {
	f.Add(-20.0, 97006.9, 0.0, 32650.9, 25.0, 10_000.0)
	f.Add(20.0, 12490.0, 60.0, 2488.0, 100.0, 680.0)
	f.Add(0.0, 1.0, 0.0, 1.0, 0.0, 1.0)
	f.Add(0.0, 1e9, 100.0, 1e-300, 200.0, 1e-308)
	f.Fuzz(func(t *testing.T, t1, r1, t2, r2, t3, r3 float64) {
		p := [3]Point{{t1, r1}, {t2, r2}, {t3, r3}}
		s, err := ThreePoints(p)
		if err != nil {
			return
		}
		for _, q := range p {
			if got, why := s.TempC(q.Ohm); why == "" && math.Abs(got-q.TempC) > 1e-3*math.Max(1, math.Abs(q.TempC)) {
				t.Errorf("%v: %g °C at %g Ω", p, got, q.Ohm)
			}
		}
	})
}
