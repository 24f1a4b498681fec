package reckon

import (
	"flitch/cmd/flitch/internal/dosing"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/cure"
)

func doseReckoning() Calculator {
	return Calculator{
		Name: "dose", Help: "Curing salt for one slab, or what a weighed amount comes to; flitch dose says more.",
		Example: "green=2268g nitrite=6.25% ppm=120 rule=us",
		Keys: []Key{
			{Name: "green", Help: "green weight; pumped: that of all the pickle when left out", Read: readDoseWeight},
			{Name: "nitrite", Help: "nitrite in the curing salt, as your packet says", Read: readStrength, Needed: true},
			{Name: "nitrate", Help: "nitrate in the curing salt", Read: readStrength},
			{Name: "salt", Help: "salt in the curing salt; the rest when left out", Read: readStrength},
			{Name: "sugar", Help: "sugar in the curing salt", Read: readStrength},
			{Name: "method", Help: "dry, bag, immersion, pumped or comminuted", Read: readWord("bag", "dry", "immersion", "pumped", "comminuted").alias("dry rub", "dry"), Taken: "bag", Basis: "on green weight"},
			{Name: "ppm", Help: "ingoing nitrite asked", Read: readPPM},
			{Name: "cure", Help: "curing salt that was weighed", Read: readDoseWeight},
			{Name: "salt-target", Help: "all salt asked", Read: readPercent},
			{Name: "brine", Help: "immersion: water of the brine", Read: readDoseWeight},
			{Name: "pickle", Help: "pumped: the pickle, all in", Read: readDoseWeight},
			{Name: "pump", Help: "pumped: part of green weight", Read: readPercent},
			{Name: "meat-water", Help: "water of the green meat", Read: readPercent, Taken: "50%", Basis: "belly, from memory"},
			{Name: "skin", Help: "on or off; on, 0.9 of the weight counts", Read: readWord("off", "on"), Taken: "off", Basis: "most belly for this is trimmed"},
			{Name: "rule", Help: "us, canada, fda-home or none", Read: readWord("us", "canada", "fda-home", "none"), Taken: "none", Basis: "the rule is yours to choose"},
			{Name: "product", Help: "bacon, or meat for anything else", Read: readWord("bacon", "meat"), Taken: "bacon", Basis: "the strictest"},
			{Name: "cap", Help: "your own cap", Read: readPPM},
		},
		work: reckonDose,
	}
}

var (
	readDoseWeight = Reader{Example: "2268g", value: numeric(quantity.ExactDoseWeight)}
	readStrength   = Reader{Example: "6.25%", value: numeric(quantity.Strength)}
)

func reckonDose(g given) (Answer, error) {
	for _, name := range []string{"ppm", "cap"} {
		if g.has(name) && g.number(name) == 0 {
			return Answer{}, misuse(name+"=120, or without it", "%s=0 asks nothing", name)
		}
	}
	green, err := greenGiven(g)
	if err != nil {
		return Answer{}, err
	}
	lot := dosing.Lot{Name: "slab", GreenG: green, WeighedG: g.number("cure")}
	o := dosing.Order{
		Method: g.word("method"), Rule: g.word("rule"), Product: g.word("product"), SkinOn: g.word("skin") == "on",
		Mix:       cure.CuringSalt{Nitrite: g.number("nitrite"), Nitrate: g.number("nitrate"), Salt: g.number("salt"), Sugar: g.number("sugar")},
		SaltKnown: g.has("salt"), PPM: g.number("ppm"), CapPPM: g.number("cap"), SaltPart: g.number("salt-target"), MeatWater: g.number("meat-water"),
		BrineG: g.number("brine"), PickleG: g.number("pickle"), Pump: g.number("pump"), Pieces: []dosing.Lot{lot}, Lots: []dosing.Lot{lot},
	}
	r, err := o.Report()
	if err != nil {
		return Answer{}, err
	}
	a := Answer{
		Model: "ingoing nitrite on " + r.Basis, Source: "FSIS Directive 7620.3, calculations handbook, rev. 1995 (read in quotations)",
		Uncertainty: "that of your scale, and of the percent on your packet",
	}
	done := r.Lots[0]
	if done.Asked != nil {
		portion(&a, "", done.Asked)
	}
	if done.Weighed != nil {
		portion(&a, "weighed ", done.Weighed)
	}
	for _, c := range done.Checks {
		a.say("check, "+c.Name, string(c.Answer))
		a.by(1, c.Rule, c.Source)
		a.Results[len(a.Results)-1].Hint = c.Hint
		if c.Hint != "" {
			a.note("%s: %s (%s; %s)", c.Name, c.Hint, c.Rule, c.Source)
		}
	}
	if !g.has("green") {
		a.note("green weight taken as pickle over pump, %.6g g: all of the pickle goes in", green)
	}
	a.Marks, a.Notes = append(a.Marks, r.Marks...), append(a.Notes, r.Cautions...)
	return a, nil
}

// greenGiven is the green weight, g. A pickle is for so much meat that the pump uses it
// up, and that is what its nitrite is counted on.
func greenGiven(g given) (float64, error) {
	if !g.has("green") && g.word("method") == "pumped" && g.number("pump") > 0 {
		return g.number("pickle") / g.number("pump"), nil
	}
	if !g.has("green") {
		return 0, misuse("green=2268g", "dose needs green: green weight")
	}
	return g.number("green"), nil
}

func portion(a *Answer, word string, p *cure.Portion) {
	a.add(word+"curing salt", p.CureG, "g")
	if p.SaltG > 0 {
		a.add(word+"common salt", p.SaltG, "g")
	}
	a.add(word+"ingoing nitrite", p.PPM, "ppm")
	a.add(word+"ingoing nitrate", p.NitratePPM, "ppm")
	a.add(word+"salt", p.SaltPct, "%")
	a.add(word+"water-phase salt", p.WPSPct, "%")
	a.add(word+"nitrite in it", p.NitriteG, "g")
}
