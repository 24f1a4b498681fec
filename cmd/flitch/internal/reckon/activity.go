package reckon

import "flitch/process/cure"

func waterActivity() Calculator {
	return Calculator{
		Name: "water-activity", Help: "Water activity of a brine (wps), or of a product from what was in it and what it has lost.",
		Example: "water=75% protein=21.5% salt=2.6% loss=35%",
		Keys: []Key{
			{Name: "wps", Help: "salt in the water phase, of a brine", Read: readPercent},
			{Name: "water", Help: "of the green weight", Read: readPercent},
			{Name: "protein", Help: "of the green weight", Read: readPercent, Taken: "20%", Basis: "lean 21 %, belly 14 %: from memory"},
			{Name: "salt", Help: "of the green weight", Read: readPercent, Taken: "0%", Basis: "none is the careful answer"},
			{Name: "sucrose", Help: "of the green weight", Read: readPercent, Taken: "0%", Basis: "none is the careful answer"},
			{Name: "loss", Help: "of the green weight, in drying", Read: readPercent, Taken: "0%", Basis: "none is the careful answer"},
		},
		work: reckonActivity,
	}
}

func reckonActivity(g given) (Answer, error) {
	if err := g.only("wps", "water"); err != nil {
		return Answer{}, err
	}
	a := Answer{Source: "Pitzer and Mayorga 1973 for NaCl, Norrish for sucrose, Ross for the product (from memory)"}
	a.mark("from memory: all three formulas; bound water 0.30 per protein; assumption: 0.45 osmol of native solutes per kg of water")
	if g.has("wps") {
		wps := 100 * g.number("wps")
		if wps > 27 {
			return a, misuse("wps=10%", "brine holds at most 26.4 %% salt")
		}
		a.Model, a.Uncertainty = "water activity of NaCl brine at 25 °C", "0.003 against five printed values and two remembered ones"
		a.add("water activity", cure.BrineActivity(cure.Molality(wps)), "")
		a.add("molality", cure.Molality(wps), "mol/kg")
		return a, nil
	}
	p, err := cure.Product{Water: g.number("water"), Protein: g.number("protein"), Salt: g.number("salt"), Sucrose: g.number("sucrose"), Loss: g.number("loss")}.Activity()
	if err != nil {
		return a, err
	}
	a.Model, a.Uncertainty = "water activity of a product, estimated at 25 °C", "0.015 either way (judgement)"
	a.add("water activity", p.AW, "")
	a.add("low", p.AW-cure.ActivityError, "")
	a.add("high", p.AW+cure.ActivityError, "")
	a.add("water-phase salt", p.WPSPct, "%")
	a.add("solvent water", p.SolventWater, "of green weight")
	a.note("an estimate is no measurement: where a rule asks for water activity, measure it")
	return a, nil
}
