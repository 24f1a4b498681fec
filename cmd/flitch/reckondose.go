package main

import (
	"flitch/cmd/flitch/internal/dosing"
	"flitch/process/cure"
)

func doseReckoning() calculator {
	return calculator{
		name: "dose", help: "Curing salt for one slab, or what a weighed amount comes to; flitch dose says more.",
		example: "green=2268g nitrite=6.25% ppm=120 rule=us",
		keys: []key{
			{name: "green", help: "green weight; pumped: that of all the pickle when left out", read: readDoseWeight},
			{name: "nitrite", help: "nitrite in the curing salt, as your packet says", read: readStrength, needed: true},
			{name: "nitrate", help: "nitrate in the curing salt", read: readStrength},
			{name: "salt", help: "salt in the curing salt; the rest when left out", read: readStrength},
			{name: "sugar", help: "sugar in the curing salt", read: readStrength},
			{name: "method", help: "dry, bag, immersion, pumped or comminuted", read: readWord("bag", "dry", "immersion", "pumped", "comminuted").alias("dry rub", "dry"), taken: "bag", basis: "on green weight"},
			{name: "ppm", help: "ingoing nitrite asked", read: readPPM},
			{name: "cure", help: "curing salt that was weighed", read: readDoseWeight},
			{name: "salt-target", help: "all salt asked", read: readPercent},
			{name: "brine", help: "immersion: water of the brine", read: readDoseWeight},
			{name: "pickle", help: "pumped: the pickle, all in", read: readDoseWeight},
			{name: "pump", help: "pumped: part of green weight", read: readPercent},
			{name: "meat-water", help: "water of the green meat", read: readPercent, taken: "50%", basis: "belly, from memory"},
			{name: "skin", help: "on or off; on, 0.9 of the weight counts", read: readWord("off", "on"), taken: "off", basis: "most belly for this is trimmed"},
			{name: "rule", help: "us, canada, fda-home or none", read: readWord("us", "canada", "fda-home", "none"), taken: "none", basis: "the rule is yours to choose"},
			{name: "product", help: "bacon, or meat for anything else", read: readWord("bacon", "meat"), taken: "bacon", basis: "the strictest"},
			{name: "cap", help: "your own cap", read: readPPM},
		},
		work: reckonDose,
	}
}

var (
	readDoseWeight = reader{"2268g", numeric(parseDoseWeight)}
	readStrength   = reader{"6.25%", numeric(parseStrength)}
)

func reckonDose(g given) (answer, error) {
	for _, name := range []string{"ppm", "cap"} {
		if g.has(name) && g.number(name) == 0 {
			return answer{}, misuse(name+"=120, or without it", "%s=0 asks nothing", name)
		}
	}
	green, err := greenGiven(g)
	if err != nil {
		return answer{}, err
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
		return answer{}, err
	}
	a := answer{
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

func portion(a *answer, word string, p *cure.Portion) {
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
