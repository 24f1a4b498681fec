package reckon

import (
	"flitch/process/cure"
)

// saltRest is for a piece that is taken out of the salt before it is even, and evens
// out in the cold, as ham and pancetta do.
func saltRest() Calculator {
	return Calculator{
		Name: "salt-rest", Help: "A slab under solid salt, rubbed off, then at rest: how even the salt becomes.",
		Example: "thickness=10cm salting=10d rest=60d temp=3C",
		Keys: []Key{
			{Name: "thickness", Help: "at the thickest place", Read: readLength},
			{Name: "salting", Help: "how long under salt", Read: readTime},
			{Name: "rest", Help: "how long at rest", Read: readTime},
			{Name: "temp", Help: "of the meat, under salt, and at rest when rest-temp is left out", Read: readTemperature},
			{Name: "rest-temp", Help: "of the meat at rest", Read: readTemperature},
			{Name: "skin", Help: "on or off; on is a sealed face", Read: readWord("off", "on"), Taken: "off", Basis: "most belly for this is trimmed"},
			sidesKey(),
			{Name: "tau-salting", Help: "instead of thickness, times and temperatures: transformed time under salt", Read: readNumber},
			{Name: "tau-rest", Help: "and at rest", Read: readNumber},
			{Name: "water", Help: "water of the green meat: loin 74%, ham 65%", Read: readPercent, Taken: "50%", Basis: "belly, from memory"},
		},
		work: reckonSaltRest,
	}
}

// even is the centre over the mean that is taken as even.
const even = 0.90

func reckonSaltRest(g given) (Answer, error) {
	salting, rest, err := saltRestTaus(g)
	if err != nil {
		return Answer{}, err
	}
	r, box := cure.Rest(salting, rest), cure.SaltBox(g.number("water"))
	a := Answer{Model: "Fick diffusion of salt in the water of a slab, one dimension: saturated surface, then no salt coming or going", Source: crank, Uncertainty: factorOfD}
	a.add("mean", r.Mean, "of saturated")
	a.add("centre", r.Centre, "of saturated")
	a.add("surface", r.Surface, "of saturated")
	a.add("centre over mean", r.Evenness(), "")
	a.say("even", map[bool]string{true: "met", false: "not met"}[r.Evenness() >= even])
	a.add("mean salt", box.SaltPct(r.Mean), "%")
	a.add("centre salt", box.SaltPct(r.Centre), "%")
	a.add("surface salt", box.SaltPct(r.Surface), "%")
	a.add("transformed time under salt", salting, "")
	a.add("transformed time at rest", rest, "")
	if g.has("tau-salting") {
		a.unused = []string{"skin"}
	}
	a.mark(calibrated)
	a.mark("assumption: a centre of 90 % of the mean is even; no water is lost, the salt is rubbed off at once")
	a.note("rest evens out and takes no salt away: the mean is settled when the salt is rubbed off")
	return a, nil
}

// saltRestTaus are the two transformed times: as given, or of times and temperatures.
func saltRestTaus(g given) (salting, rest float64, err error) {
	if err := g.only("tau-salting", "thickness"); err != nil {
		return 0, 0, err
	}
	sealed, err := skinGiven(g)
	if err != nil {
		return 0, 0, err
	}
	if g.has("tau-salting") {
		if err := g.without("tau-salting", "salting", "rest", "temp", "rest-temp", "sides"); err != nil {
			return 0, 0, err
		}
		if !g.has("tau-rest") {
			return 0, 0, misuse("tau-salting=0.1 tau-rest=0.2", "tau-salting and tau-rest go together")
		}
		salting, rest = g.number("tau-salting"), g.number("tau-rest")
	} else {
		if !g.has("salting") || !g.has("rest") || !g.has("temp") || g.has("tau-rest") {
			return 0, 0, misuse("thickness=10cm salting=10d rest=60d temp=3C", "the thickness goes with salting, rest and temp, and without tau-rest")
		}
		warm := g.number("temp")
		if g.has("rest-temp") {
			warm = g.number("rest-temp")
		}
		path := cure.Path(cure.Slab, g.number("thickness")*mm, sealed)
		salting = cure.Tau(g.number("temp"), g.number("temp"), g.number("salting"), path)
		rest = cure.Tau(warm, warm, g.number("rest"), path)
	}
	if !(salting >= shortestTau && salting <= longestTau && rest >= 0 && rest <= longestTau) {
		return 0, 0, misuse("times of days and inches of meat above -2C; tau-salting=0.1 tau-rest=0.2", "a transformed time of %.3g under salt and %.3g at rest is no cure", salting, rest)
	}
	return salting, rest, nil
}

// A transformed time outside of these is minutes of a cure or years: the series needs
// too many terms, or everything is even long before.
const (
	shortestTau = 1e-4
	longestTau  = 1e6
)

// without complains when one of the others is typed beside the key that says it already.
func (g given) without(name string, others ...string) error {
	for _, other := range others {
		if _, typed := g.typed[other]; typed {
			return misuse("one of them", "%s and %s say the same thing", name, other)
		}
	}
	return nil
}
