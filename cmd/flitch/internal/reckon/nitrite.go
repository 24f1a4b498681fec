package reckon

import "flitch/process/cure"

const nordin = "half-life law of Nordin 1969, Can. Inst. Food Technol. J. 2:79 (from memory, by way of reviews; not seen)"

func nitriteLeft() Calculator {
	return Calculator{
		Name: "nitrite-left", Help: "How much of the ingoing nitrite is still there after a time in the cold.",
		Example: "temp=4C time=7d ppm=156ppm",
		Keys: []Key{
			{Name: "temp", Help: "of the meat", Read: readTemperature, Needed: true},
			{Name: "time", Help: "since it went in; the half life alone when left out", Read: readTime},
			{Name: "ppm", Help: "ingoing", Read: readPPM},
			{Name: "ph", Help: "of the meat, 5.4 to 6.3", Read: readNumber, Taken: "5.8", Basis: "pork, from memory"},
		},
		work: func(g given) (Answer, error) {
			temp, ph := g.number("temp"), g.number("ph")
			if err := meatPH(ph); err != nil {
				return Answer{}, err
			}
			if g.has("ppm") && !g.has("time") {
				return Answer{}, misuse("time=7d", "what is left of %g ppm needs the time", g.number("ppm"))
			}
			left := cure.NitriteLeft(cure.NitriteDecay(temp, temp, g.number("time"), ph))
			a := Answer{Model: "loss of nitrite of the first order in time", Source: nordin, Uncertainty: "a factor of 2 in the rate, either way"}
			a.add("half life", cure.NitriteHalfLife(temp, ph)/ofDay, "d")
			if g.has("time") {
				a.add("part left", left, "of ingoing")
			}
			if g.has("ppm") {
				a.add("left", left*g.number("ppm"), "ppm")
			}
			a.mark("from memory: the law, and the pH unless you gave it")
			a.note("protection is judged by the ingoing dose, not by what is left")
			return a, nil
		},
	}
}

func meatPH(ph float64) error {
	if !(ph >= 4 && ph <= 8) {
		return misuse("ph=5.8", "no meat has a pH of %g", ph)
	}
	return nil
}
