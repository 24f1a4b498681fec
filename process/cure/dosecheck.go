package cure

import (
	"fmt"
	"math"
)

const (
	// WeighedTolerance is how far what was weighed may be from what was asked, as
	// a part of it (proposal).
	WeighedTolerance = 0.05

	// slipWidth is how near a ratio has to be to that of a known slip, as a part
	// of it (proposal).
	slipWidth = 0.15

	// ScaleStep is the finest step of the scale that a dose is weighed on, g.
	ScaleStep = 0.1
)

// A Limit is what the rule the user chose says about nitrite and nitrate. Amounts
// are ppm of NaNO2, ingoing, on the weight that counts.
type Limit struct {
	Rule      string
	CapPPM    float64 // the most; 0 when the rule has none
	LeastPPM  float64 // the least; 0 when the rule has none
	Exact     bool    // CapPPM is the dose itself, as for pumped bacon in the USA
	NoNitrate bool    // the rule allows no nitrate at all, as for bacon in the USA
	Source    string
}

// CheckWeighed compares the mass of curing salt weighed with the mass asked, in
// one unit. A weighed of 0 or no number is not measured.
func CheckWeighed(asked, weighed float64) Check {
	c := Check{
		Name: "weighed against asked", Value: weighed, Limit: asked, Unit: "g",
		Rule: "within 5 % of what was asked", Source: "proposal",
	}
	switch {
	case !weighedAt(asked, weighed):
		c.Answer, c.Value, c.Hint = NotMeasured, 0, "weigh the curing salt and say what it was"
	case math.Abs(weighed-asked) <= WeighedTolerance*asked*(1+1e-9):
		c.Answer = Met
	default:
		c.Answer, c.Hint = NotMet, fmt.Sprintf("%.3g times what was asked: weigh it again before it goes on", weighed/asked)
	}
	return c
}

func weighedAt(asked, weighed float64) bool {
	return weighed > 0 && finite(weighed) && asked > 0 && finite(asked)
}

// slips are ratios of weighed to asked that have a common cause. Ten and three:
// reported dosing errors of the trade; pounds and ounces: units.
var slips = [...]struct {
	ratio float64
	cause string
}{
	{10, "ten times: a decimal point has slipped"},
	{0.1, "a tenth: a decimal point has slipped"},
	{3, "three times: as a tablespoon taken for a teaspoon"},
	{1.0 / 3, "a third: as a teaspoon taken for a tablespoon"},
	{28.3495, "28 times: ounces weighed for grams"},
	{1 / 28.3495, "1/28: grams weighed for ounces"},
	{2.2046, "2.2 times: as pounds of meat taken for kilograms"},
	{1 / 2.2046, "1/2.2: as kilograms of meat taken for pounds"},
}

// CheckSlip looks for a known slip between the mass asked and the mass weighed:
// a ratio near 10 or 0.1 above all. It is held when there is one, and not measured
// when nothing was weighed.
func CheckSlip(asked, weighed float64) Check {
	c := Check{
		Name: "slip of the pen or the scale", Answer: Met, Limit: 1,
		Rule: "the ratio of weighed to asked is not that of a known slip", Source: "reported dosing errors; ratios are proposals",
	}
	if !weighedAt(asked, weighed) {
		c.Answer, c.Hint = NotMeasured, "nothing was weighed"
		return c
	}
	c.Value = weighed / asked
	for _, s := range slips {
		if math.Abs(c.Value-s.ratio) <= slipWidth*s.ratio {
			c.Answer, c.Hint = Held, s.cause
			return c
		}
	}
	return c
}

// CheckCap compares ingoing ppm with the most that the rule allows, or with the
// exact dose it gives, within WeighedTolerance: no scale weighs a dose exactly.
// Without a rule, or with one that has no cap, it is not measured: nobody has said
// yes.
func (l Limit) CheckCap(ppm float64) Check {
	c := Check{Name: "most nitrite", Value: ppm, Limit: l.CapPPM, Unit: "ppm", Rule: l.Rule, Source: l.Source}
	switch {
	case !finite(ppm) || ppm < 0:
		c.Answer, c.Value, c.Hint = NotMeasured, 0, "the dose is not known"
	case !(l.CapPPM > 0):
		c.Answer, c.Hint = NotMeasured, "no rule with a cap was chosen"
	case l.Exact && math.Abs(ppm-l.CapPPM) <= WeighedTolerance*l.CapPPM*(1+1e-9), !l.Exact && ppm <= l.CapPPM*(1+1e-9):
		c.Answer = Met
	case ppm < l.CapPPM:
		c.Answer, c.Hint = NotMet, "the rule gives the dose exactly, and this is under it"
	default:
		c.Answer, c.Hint = NotMet, "over the cap: do not use it; caught at once, wash off, weigh again and start again; later, a person who knows must judge"
	}
	return c
}

// CheckLeast compares ingoing ppm with the least that the rule asks for: too
// little is a hazard too. ok is false when the rule asks for none.
func (l Limit) CheckLeast(ppm float64) (c Check, ok bool) {
	if !(l.LeastPPM > 0) {
		return Check{}, false
	}
	c = Check{Name: "least nitrite", Value: ppm, Limit: l.LeastPPM, Unit: "ppm", Rule: l.Rule, Source: l.Source}
	switch {
	case !finite(ppm) || ppm < 0:
		c.Answer, c.Value, c.Hint = NotMeasured, 0, "the dose is not known"
	case ppm >= l.LeastPPM*(1-1e-9):
		c.Answer = Met
	default:
		c.Answer, c.Hint = NotMet, "too little is a hazard when the meat is smoked slowly or vacuum packed"
	}
	return c, true
}

// CheckNitrate refuses a curing salt with nitrate where the rule allows none.
func (l Limit) CheckNitrate(mix CuringSalt) Check {
	c := Check{Name: "nitrate", Answer: Met, Value: 100 * mix.Nitrate, Unit: "% of the curing salt", Rule: l.Rule, Source: l.Source}
	switch {
	case !(mix.Nitrate > 0):
	case l.NoNitrate:
		c.Answer, c.Hint = NotMet, "this rule allows no nitrate; long cures with nitrate are not for bacon: take one without"
	case l.Rule == "":
		c.Answer, c.Hint = Held, "it has nitrate, and no rule was chosen that allows it"
	}
	return c
}

// CheckScale asks whether a scale with ScaleStep can weigh a dose within
// WeighedTolerance: half a step is its error.
func CheckScale(askedG float64) Check {
	c := Check{
		Name: "scale", Answer: Met, Value: askedG, Limit: ScaleStep / 2 / WeighedTolerance, Unit: "g",
		Rule: "half of 0.1 g is within 5 % of the dose", Source: "proposal",
	}
	if !(askedG >= c.Limit) {
		c.Answer, c.Hint = Held, "too small for a scale of 0.1 g: weigh on one that shows 0.01 g"
	}
	return c
}
