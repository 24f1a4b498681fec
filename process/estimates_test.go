package process

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

// exact is a diary whose core probe is taken at its word, for a plan that knows more
// of the food.
func exact(t *testing.T, g GrowthRule) *diary {
	d := newDiary(t)
	d.batch.track("core").Probe.Uncertainty = 0
	d.batch.Plan.Growth = g
	return d
}

func (d *diary) estimate(name string) Estimate {
	d.t.Helper()
	for _, e := range d.batch.Estimates() {
		if strings.HasPrefix(e.Name, name) {
			return e
		}
	}
	d.t.Fatalf("no estimate %s in %+v", name, d.batch.Estimates())
	return Estimate{}
}

func (d *diary) wantEstimate(name string, value, within float64) {
	d.t.Helper()
	if e := d.estimate(name); math.Abs(e.Value-value) > within || e.Low > e.Value || e.High < e.Value {
		d.t.Errorf("%s: %.4f (%.4f to %.4f), want %.4f", name, e.Value, e.Low, e.High, value)
	}
}

func fahrenheit(f float64) float64 { return (f - 32) / 1.8 }

// The federal cooling lines by the model for beef and for pork ham with nitrite: 2.14
// and 1.11 log (cook-cool-hold specification 2.4, computed by an ODE solver from
// Juneja et al. 2011 and 2006).
func TestChillGrowthThroughStep(t *testing.T) {
	for _, c := range []struct {
		food         GrowthRule
		first, whole float64 // hours to 80 °F, and from there
		endF, want   float64
	}{
		{GrowthRule{Species: "beef"}, 1.5, 5, 40, 2.14},
		{GrowthRule{Species: "pork", NitritePPM: 120, Accelerator: true}, 5, 10, 45, 1.11},
	} {
		d := exact(t, c.food)
		s := cook(d)
		d.read("core", s, fahrenheit(130))
		d.stage(s, StageChill)
		turn, end := s+hoursOf(c.first), s+hoursOf(c.first+c.whole)
		d.line("core", s+minute, turn, minute, fahrenheit(130)+(fahrenheit(80)-fahrenheit(130))/(c.first*60), fahrenheit(80))
		d.line("core", turn+minute, end, minute, fahrenheit(80)+(fahrenheit(c.endF)-fahrenheit(80))/(c.whole*60), fahrenheit(c.endF))
		d.wantEstimate("C. perfringens", c.want, 0.01)
	}
}

// S. aureus at water activity 0.99 on a line from 10 to 54.44 °C in 6 h: 2.01 log
// (cook-cool-hold specification 2.4; the purpose of the 6 h rule is 2 log).
func TestComeUpGrowthThroughStep(t *testing.T) {
	const salt = 1.8279 // % in the water phase, gives 0.99 by Le Marc et al. 2008
	d := exact(t, GrowthRule{SaltPct: salt})
	s := cook(d)
	d.line("core", s, s+6*hour, minute, 10, fahrenheit(130))
	d.wantEstimate("S. aureus", 2.01, 0.01)
	if e := d.estimate("S. aureus"); e.Level != "amber" {
		t.Errorf("level %q", e.Level)
	}
}

// A model without an end of growth says so when it tells of more than meat carries.
func TestGrowthBeyondMeatIsDoubted(t *testing.T) {
	for hours, doubted := range map[time.Duration]bool{6: false, 60: true} {
		d := exact(t, GrowthRule{})
		s := cook(d)
		d.line("core", s, s+hours*hour, minute, 30, 30)
		e := d.estimate("S. aureus")
		said := slices.ContainsFunc(e.Doubts, func(doubt string) bool { return strings.Contains(doubt, "no meat carries more") })
		if said != doubted {
			t.Errorf("%d h at 30 °C: %.1f log10, doubts %q", hours, e.High, e.Doubts)
		}
	}
}

// 60 °C for 11.23 min is 6.5 log at D60 1.728 min (cook-cool-hold specification 1.4),
// and 5.756 at the stricter 1.951.
func TestLethalityByModelThroughStep(t *testing.T) {
	d := exact(t, GrowthRule{})
	s := cook(d)
	d.line("core", s, s+11*minute, minute, 60, 60)
	d.read("core", s+11*minute+13800*1e6, 60)
	d.wantEstimate("Salmonella", 11.23/1.951, 1e-3)
}

// A gap helps no model: it earns no lethality, and grows at its warm end.
func TestGapsHelpNoModel(t *testing.T) {
	seen, blind := exact(t, GrowthRule{Species: "beef"}), exact(t, GrowthRule{Species: "beef"})
	for _, d := range []*diary{seen, blind} {
		s := cook(d)
		d.line("core", s, s+hour, minute, 62, 62)
		d.stage(s+hour, StageChill)
		d.line("core", s+61*minute, s+2*hour, minute, 61, 45)
	}
	s := 5*day + 2*hour
	seen.line("core", s+minute, s+2*hour, minute, 45, 20)
	blind.read("core", s+2*hour, 20)
	blind.read("core", s+121*minute, 20)
	if a, b := seen.estimate("C. perfringens"), blind.estimate("C. perfringens"); b.Value <= a.Value {
		t.Errorf("seen %.2f log, blind %.2f", a.Value, b.Value)
	}
	if a, b := seen.estimate("Salmonella"), blind.estimate("Salmonella"); b.Value > a.Value {
		t.Errorf("seen %.2f log killed, blind %.2f", a.Value, b.Value)
	}
}

// Listeria in the cold grows by what the slow sensor says, a doubling is a note.
func TestHoldGrowthThroughStep(t *testing.T) {
	d := exact(t, GrowthRule{})
	s := cook(d)
	d.line("core", s, s+hour, minute, 62, 62)
	d.stage(s+hour, StageChill)
	d.line("slow", s+hour, s+hour+3*day, 5*minute, 4, 4)
	// 0.419 ((4+0.5+2.83)/27.83)² per hour, no salt known: Mejlholm et al. 2010.
	rate := 0.419 * math.Pow((4+0.5+2.83)/27.83, 2)
	d.wantEstimate("Listeria grown", rate*72/math.Ln10, 1e-3)
	if e := d.estimate("Listeria grown"); e.Level != "note" {
		t.Errorf("%.2f log is %q", e.Value, e.Level)
	}
}

// What machines round differently is not in an estimate.
func TestEstimatesAreOfMillionths(t *testing.T) {
	for x, want := range map[float64]float64{0.1073734728590088: 0.107373, 0.10737347285900878: 0.107373, -2.3934985061893985e-15: 0, 7.0000005: 7.000001, -1.2345678: -1.234568, 1e300: 1e300} {
		if got := toMillionths(x); got != want || math.Signbit(got) != (want < 0) {
			t.Errorf("%v: %v, want %v", x, got, want)
		}
	}
}
