// Package dosing works out what curing salt to weigh for each slab, by the strength of the
// packet and the rule that was chosen, and checks what was weighed. The command line, the
// calculators and the page ask the same.
package dosing

import (
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
	"flitch/process/cure"
	"flitch/process/rules"
)

// An Order is what to dose, by which rule. Parts are 0 to 1, masses g.
type Order struct {
	Method                string // as typed: dry, bag, immersion, pumped, comminuted
	Rule, Product         string // "none": no rule
	SkinOn                bool   // of all lots; a lot can say it for itself
	Mix                   cure.CuringSalt
	SaltKnown             bool // else all the rest of the curing salt is salt
	PPM, CapPPM           float64
	SaltPart, MeatWater   float64
	BrineG, PickleG, Pump float64
	Pieces, Lots          []Lot
}

// A Lot is a slab, or all slabs in one tub or pickle.
type Lot struct {
	Name     string
	GreenG   float64
	WeighedG float64 // 0: not weighed
	SkinOn   bool
}

// Methods are the ways the cure gets in, as people name them.
var Methods = map[string]cure.Method{
	"dry": cure.Dry, "bag": cure.Dry, "immersion": cure.Immersed, "pumped": cure.Pumped, "comminuted": cure.Comminuted,
}

// recipe checks the order and makes a recipe of it.
func (o Order) recipe() (cure.Recipe, error) {
	if o.Mix.Nitrite == 0 {
		return cure.Recipe{}, quantity.About("nitrite", quantity.Misuse("the percent of nitrite on your packet", "the strength of the curing salt is missing: there is no default"))
	}
	mix := o.Mix
	if !o.SaltKnown {
		mix = mix.WithRest()
	}
	if c := mix.CheckStrength(); c.Answer != cure.Met {
		return cure.Recipe{}, quantity.About("nitrite", quantity.Problem("the percent on your packet", "%.4g %% nitrite is held: %s", c.Value, c.Hint))
	}
	r := cure.Recipe{
		Method: Methods[o.Method], Mix: mix, PPM: o.PPM, SaltPart: o.SaltPart,
		WaterG: o.BrineG, PickleG: o.PickleG, Uptake: o.Pump, MeatWater: o.MeatWater,
	}
	switch {
	case o.Method == "immersion" && o.BrineG == 0:
		return r, quantity.About("brine", quantity.Misuse("the water of the brine, as 1.5kg", "a dose for immersion needs the water of the brine"))
	case o.Method != "immersion" && o.BrineG > 0:
		return r, quantity.About("brine", quantity.Misuse("the method immersion, or no brine", "a brine is for immersion, and the method is %s", o.Method))
	case o.Method != "pumped" && (o.PickleG > 0 || o.Pump > 0):
		return r, quantity.About("pickle", quantity.Misuse("the method pumped, or neither", "pickle and pump are for the method pumped, and the method is %s", o.Method))
	case o.MeatWater == 0:
		return r, quantity.Misuse("the water of the meat: belly 50%, loin 74%, ham 65%", "meat without water takes no salt")
	case o.Method == "pumped" && (o.PickleG == 0 || o.Pump == 0):
		return r, quantity.About("pickle", quantity.Misuse("the pickle and the pump, as 5kg and 10%", "a dose for pumping needs the pickle and the pump"))
	}
	if err := r.Check(); err != nil {
		return r, quantity.Misuse("flitch dose --help", "%s", strings.TrimPrefix(err.Error(), "dose: "))
	}
	return r, nil
}

// Together are the lots that are dosed apart: a brine and a pickle are one lot for all
// slabs. With the skin on all of them, it is on the lot.
func (o Order) Together() []Lot {
	if o.Method != "immersion" && o.Method != "pumped" || len(o.Pieces) == 0 {
		return o.Pieces
	}
	all := o.Pieces[0]
	for _, p := range o.Pieces[1:] {
		all.Name, all.GreenG, all.WeighedG = all.Name+"+"+p.Name, all.GreenG+p.GreenG, all.WeighedG+p.WeighedG
		all.SkinOn = all.SkinOn && p.SkinOn
	}
	return []Lot{all}
}

func (o Order) curing() rules.Curing {
	return rules.Curing{Rule: o.Rule, Product: o.Product, Method: string(Methods[o.Method])}
}

// limit is what the chosen rule and the user's own cap say.
func (o Order) limit() (cure.Limit, error) {
	l := cure.Limit{Source: "no rule was chosen"}
	if o.Rule != "none" && o.Rule != "" {
		var err error
		if l, err = process.NitriteLimit(o.curing(), o.Mix.Nitrate > 0); err != nil {
			return l, quantity.Misuse("us, canada or fda-home", "%v", err)
		}
	}
	if o.CapPPM > 0 && (l.CapPPM == 0 || o.CapPPM < l.CapPPM) {
		l.CapPPM, l.Exact, l.Rule, l.Source = o.CapPPM, false, strings.TrimSuffix("your own cap; "+l.Rule, "; "), "yours"
	}
	return l, nil
}

// mostNitrate holds the ingoing nitrate against the rule's amount, where it allows
// any; a rule that counts nitrite and nitrate together gets the sum. ok is false
// when there is no nitrate or no amount.
func (o Order) mostNitrate(p cure.Portion) (c cure.Check, ok bool) {
	row, allowed := o.curing().Nitrate()
	if !(p.NitratePPM > 0) || !allowed {
		return cure.Check{}, false
	}
	ppm := p.NitratePPM
	if strings.Contains(row.Substance, "+") {
		ppm += p.PPM
	}
	c = cure.Limit{Rule: o.Rule + ", " + row.AppliesTo + ", " + row.Substance, CapPPM: row.PPM, Source: row.Source + " (" + row.Provenance + ")"}.CheckCap(ppm)
	c.Name = "most nitrate"
	return c, true
}

// refuse stops an order that no grams are said for: nitrate where the rule allows
// none, more than the cap, nothing asked and nothing weighed.
func (o Order) refuse(l cure.Limit) error {
	weighed := false
	for _, lot := range o.Lots {
		weighed = weighed || lot.WeighedG > 0
	}
	nitrate := l.CheckNitrate(o.Mix)
	most := l.CheckCap(o.PPM)
	switch {
	case nitrate.Answer == cure.NotMet:
		return quantity.About("nitrate", quantity.Problem("a curing salt without nitrate", "%.4g %% nitrate is refused by %s: %s (%s)", nitrate.Value, l.Rule, nitrate.Hint, l.Source))
	case o.PPM == 0 && !weighed:
		return quantity.About("ppm", quantity.Misuse("ppm of what is asked, or the grams of curing salt that were weighed", "nothing is asked and nothing was weighed"))
	case o.PPM > 0 && most.Answer == cure.NotMet && o.PPM > l.CapPPM:
		return quantity.About("ppm", quantity.Problem(trimmed(l.CapPPM)+"ppm", "%s ppm is over %s ppm, the cap of %s (%s)", trimmed(o.PPM), trimmed(l.CapPPM), l.Rule, l.Source))
	}
	return nil
}

// BellyWater is the water part of green belly, from memory. It moves the salt in the water
// phase and, for a brine, the dose.
const BellyWater = 0.5
