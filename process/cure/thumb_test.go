package cure

import (
	"math"
	"strings"
	"testing"
)

func belly(inches float64) Piece {
	return Piece{Cut: Cut{Slab, 0.087}, ThicknessM: inches * inch, GreenG: 2268}
}

// 7 days per inch agrees with the model at 2.24 in at 4 °C (computed elsewhere).
func TestWhereRuleAndModelPart(t *testing.T) {
	rule := Thumb{Grain: PerInch, Amount: 7}
	c := belly(1.5).Compare(rule, DefaultFraction, 4)
	near(t, "they part at, in", c.PartM/inch, 2.24, 0.005)
	at := belly(c.PartM/inch).Compare(rule, DefaultFraction, 4)
	near(t, "rule and model there", at.RuleDays, at.ModelDays, 1e-9)
	if !(c.RuleDays > c.ModelDays) || !strings.Contains(c.Parting(rule, 1.5*inch), "waits longer") {
		t.Errorf("below: %+v, %s", c, c.Parting(rule, 1.5*inch))
	}
	thick := belly(3).Compare(rule, DefaultFraction, 4)
	if !(thick.RuleDays < thick.ModelDays) || thick.Reach != NotYet || !strings.Contains(thick.Parting(rule, 3*inch), "2.24 in") {
		t.Errorf("above: %+v, %s", thick, thick.Parting(rule, 3*inch))
	}
	plus := Thumb{Grain: FromEachWay, Amount: 0.25, Plus: 2}
	p := belly(1.5).Compare(plus, DefaultFraction, 4).PartM
	q := belly(p/inch).Compare(plus, DefaultFraction, 4)
	near(t, "rule with days added, and model", q.RuleDays, q.ModelDays, 1e-9)
}

func TestRulesOfThumb(t *testing.T) {
	for _, c := range []struct {
		rule Thumb
		want float64
	}{
		{Thumb{Grain: FixedDays, Amount: 7}, 7}, {Thumb{Grain: PerInch, Amount: 7}, 10.5},
		{Thumb{Grain: FromEachWay, Amount: 0.25, Plus: 2}, 5}, {Thumb{Grain: PerPound, Amount: 2}, 10},
	} {
		near(t, c.rule.String(), c.rule.Days(0.0381, 5*pound), c.want, 1e-9)
	}
	for _, r := range []Thumb{{Grain: PerInch, Amount: 7}, {Grain: PerPound, Amount: 4}, {Grain: "moon"}} {
		if d := r.Days(0, math.NaN()); !math.IsNaN(d) {
			t.Errorf("%s of nothing known is %v days", r, d)
		}
	}
	for _, r := range Thumbs() {
		if r.Source == "" || r.String() == "" || math.IsNaN(r.Days(0.0381, 2268)) {
			t.Errorf("%+v has no source or no days", r)
		}
	}
}

// Without days there is no progress, and frozen there is no end.
func TestComparisonOfNothing(t *testing.T) {
	c := Piece{Cut: Cut{Slab, 0.087}, ThicknessM: 0.0381}.Compare(Thumb{Grain: PerPound, Amount: 4}, DefaultFraction, 4)
	if c.Reach != NotYet || c.Centre != 0 || !math.IsNaN(c.PartM) {
		t.Errorf("weight not known: %+v", c)
	}
	c = belly(1.5).Compare(Thumb{Grain: PerInch, Amount: 7}, DefaultFraction, -5)
	if c.Reach != NotYet || !math.IsInf(c.ModelDays, 1) || !math.IsNaN(c.PartM) {
		t.Errorf("frozen: %+v", c)
	}
}
