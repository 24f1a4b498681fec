package main

import (
	"strings"

	"flitch/process"
	"flitch/process/cure"
	"flitch/process/rules"
)

// A doseOrder is what to dose, by which rule. Parts are 0 to 1, masses g.
type doseOrder struct {
	method                string // as typed: dry, bag, immersion, pumped, comminuted
	rule, product         string // "none": no rule
	skinOn                bool
	mix                   cure.CuringSalt
	saltKnown             bool // else all the rest of the curing salt is salt
	ppm, capPPM           float64
	saltPart, meatWater   float64
	brineG, pickleG, pump float64
	pieces, lots          []doseLot
}

// A doseLot is a slab, or all slabs in one tub or pickle.
type doseLot struct {
	name     string
	greenG   float64
	weighedG float64 // 0: not weighed
}

var doseMethods = map[string]cure.Method{
	"dry": cure.Dry, "bag": cure.Dry, "immersion": cure.Immersed, "pumped": cure.Pumped, "comminuted": cure.Comminuted,
}

// recipe checks the order and makes a recipe of it.
func (o doseOrder) recipe() (cure.Recipe, error) {
	if o.mix.Nitrite == 0 {
		return cure.Recipe{}, misuse("the percent of nitrite on your packet", "the strength of the curing salt is missing: there is no default")
	}
	mix := o.mix
	if !o.saltKnown {
		mix = mix.WithRest()
	}
	if c := mix.CheckStrength(); c.Answer != cure.Met {
		return cure.Recipe{}, problem("the percent on your packet", "%.4g %% nitrite is held: %s", c.Value, c.Hint)
	}
	r := cure.Recipe{
		Method: doseMethods[o.method], Mix: mix, PPM: o.ppm, SaltPart: o.saltPart,
		WaterG: o.brineG, PickleG: o.pickleG, Uptake: o.pump, MeatWater: o.meatWater,
	}
	switch {
	case o.method == "immersion" && o.brineG == 0:
		return r, misuse("the water of the brine, as 1.5kg", "a dose for immersion needs the water of the brine")
	case o.method != "immersion" && o.brineG > 0:
		return r, misuse("the method immersion, or no brine", "a brine is for immersion, and the method is %s", o.method)
	case o.method != "pumped" && (o.pickleG > 0 || o.pump > 0):
		return r, misuse("the method pumped, or neither", "pickle and pump are for the method pumped, and the method is %s", o.method)
	case o.meatWater == 0:
		return r, misuse("the water of the meat: belly 50%, loin 74%, ham 65%", "meat without water takes no salt")
	case o.method == "pumped" && (o.pickleG == 0 || o.pump == 0):
		return r, misuse("the pickle and the pump, as 5kg and 10%", "a dose for pumping needs the pickle and the pump")
	}
	if err := r.Check(); err != nil {
		return r, misuse("flitch dose --help", "%s", strings.TrimPrefix(err.Error(), "dose: "))
	}
	return r, nil
}

func (o doseOrder) curing() rules.Curing {
	return rules.Curing{Rule: o.rule, Product: o.product, Method: string(doseMethods[o.method])}
}

// limit is what the chosen rule and the user's own cap say.
func (o doseOrder) limit() (cure.Limit, error) {
	l := cure.Limit{Source: "no rule was chosen"}
	if o.rule != "none" && o.rule != "" {
		var err error
		if l, err = process.NitriteLimit(o.curing(), o.mix.Nitrate > 0); err != nil {
			return l, misuse("us, canada or fda-home", "%v", err)
		}
	}
	if o.capPPM > 0 && (l.CapPPM == 0 || o.capPPM < l.CapPPM) {
		l.CapPPM, l.Exact, l.Rule, l.Source = o.capPPM, false, strings.TrimSuffix("your own cap; "+l.Rule, "; "), "yours"
	}
	return l, nil
}

// mostNitrate holds the ingoing nitrate against the rule's amount, where it allows
// any; a rule that counts nitrite and nitrate together gets the sum. ok is false
// when there is no nitrate or no amount.
func (o doseOrder) mostNitrate(p cure.Portion) (c cure.Check, ok bool) {
	row, allowed := o.curing().Nitrate()
	if !(p.NitratePPM > 0) || !allowed {
		return cure.Check{}, false
	}
	ppm := p.NitratePPM
	if strings.Contains(row.Substance, "+") {
		ppm += p.PPM
	}
	c = cure.Limit{Rule: o.rule + ", " + row.AppliesTo + ", " + row.Substance, CapPPM: row.PPM, Source: row.Source + " (" + row.Provenance + ")"}.CheckCap(ppm)
	c.Name = "most nitrate"
	return c, true
}

// refuse stops an order that no grams are said for: nitrate where the rule allows
// none, more than the cap, nothing asked and nothing weighed.
func (o doseOrder) refuse(l cure.Limit) error {
	weighed := false
	for _, lot := range o.lots {
		weighed = weighed || lot.weighedG > 0
	}
	nitrate := l.CheckNitrate(o.mix)
	most := l.CheckCap(o.ppm)
	switch {
	case nitrate.Answer == cure.NotMet:
		return problem("a curing salt without nitrate", "%.4g %% nitrate is refused by %s: %s (%s)", nitrate.Value, l.Rule, nitrate.Hint, l.Source)
	case o.ppm == 0 && !weighed:
		return misuse("ppm of what is asked, or the grams of curing salt that were weighed", "nothing is asked and nothing was weighed")
	case o.ppm > 0 && most.Answer == cure.NotMet && o.ppm > l.CapPPM:
		return problem(trimmed(l.CapPPM)+"ppm", "%s ppm is over %s ppm, the cap of %s (%s)", trimmed(o.ppm), trimmed(l.CapPPM), l.Rule, l.Source)
	}
	return nil
}
