package reckon

import (
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/hold"
	"flitch/process/rules"
)

func freezingPoint() Calculator {
	return Calculator{
		Name: "freezing-point", Help: "Where meat begins to freeze, by its water and salt.",
		Example: "water=50% salt=2.5%",
		Keys: []Key{
			{Name: "water", Help: "of the weight", Read: readPercent, Needed: true},
			{Name: "salt", Help: "of the weight", Read: readPercent, Taken: "0%", Basis: "without salt it freezes first"},
		},
		work: func(g given) (Answer, error) {
			water, salt := g.number("water"), g.number("salt")
			freeze, ok := hold.Freezing(water, salt)
			brine, ok2 := hold.Brine(water, salt)
			if !ok || !ok2 {
				return Answer{}, misuse("water=50% salt=2.5%", "no meat has that much water and salt, or the brine is over 23 %%")
			}
			a := Answer{
				Model:       "freezing point of the meat and the fall by its brine, added",
				Source:      "-1.97 + 1.47 times the water part (literature, read); fall of brine fitted to the CRC Handbook",
				Uncertainty: "0.5 K (choice of this project)",
			}
			a.add("freezing point", freeze, "°C")
			a.add("water-phase salt", brine, "%")
			return a, nil
		},
	}
}

func trichinaFreezing() Calculator {
	return Calculator{
		Name: "trichina-freezing", Help: "How long pork is to be frozen against Trichinella, by the old table.",
		Example: "temp=-18C thickness=6in",
		Keys: []Key{
			{Name: "temp", Help: "at or below which it stays", Read: readTemperature, Needed: true},
			{Name: "thickness", Help: "of the meat, when temp is the room's", Read: readLength},
			{Name: "time", Help: "that it was frozen", Read: readTime},
		},
		work: func(g given) (Answer, error) {
			row, ok := rules.FreezingFor(!g.has("thickness"), g.number("temp"), inches(g.number("thickness")))
			if !ok {
				return Answer{}, misuse("a colder temperature, or thinner meat", "the table has no row that warm or that thick")
			}
			a := Answer{Model: "old 9 CFR 318.10(c)(2), rows not interpolated, measured in the " + row.MeasuredAt, Source: row.Source + " (" + row.Provenance + ")",
				Uncertainty: "take that of your probe off the temperature before"}
			a.add("time asked", row.Hours, "h")
			a.add("row", row.TempC, "°C")
			if g.has("time") {
				a.say("verdict", map[bool]string{true: "met", false: "not met"}[g.number("time") >= row.Hours])
			}
			a.note("for Trichinella spiralis only: some kinds in game outlive it")
			return a, nil
		},
	}
}

func productHold() Calculator {
	return Calculator{
		Name: "hold", Help: "When the product in a fridge reaches a limit, if the air stays as it is.",
		Example: "product=3C air=12C tau=90min",
		Keys: []Key{
			{Name: "product", Help: "temperature of the product now", Read: readTemperature, Needed: true},
			{Name: "air", Help: "of the fridge, as it stays", Read: readTemperature},
			{Name: "profile", Help: "or time:temperature of the air, to see where the product came", Read: readProfile},
			{Name: "limit", Help: "for the product", Read: readTemperature, Taken: "4.4C", Basis: "40 °F"},
			{Name: "tau", Help: "time constant of the product", Read: readTime, Taken: "90min", Basis: "choice of this project, short is strict"},
		},
		work: func(g given) (Answer, error) {
			if err := g.only("air", "profile"); err != nil {
				return Answer{}, err
			}
			e := hold.Begin(g.number("product"), g.number("air"))
			a := Answer{Model: "product of one temperature that follows the air", Source: "exact solution of the first-order lag",
				Uncertainty: "that of the time constant, in proportion"}
			if g.has("profile") {
				followed(&a, g)
				return a, nil
			}
			minutes, ok := e.MinutesTo(g.number("limit"), 60*g.number("tau"))
			if ok {
				a.add("time to limit", minutes, "min")
			} else {
				a.say("time to limit", "never in this air")
			}
			return a, nil
		},
	}
}

// followed is where the product came in air that went in straight lines.
func followed(a *Answer, g given) {
	points, now := g.series("profile"), g.number("product")
	highest := now
	for i, b := range points[1:] {
		now = hold.Follow(now, points[i].value, b.value, 60*(b.hours-points[i].hours), 60*g.number("tau"))
		highest = max(highest, now)
	}
	a.add("product at the end", now, "°C")
	a.add("highest at a point", highest, "°C")
	a.say("limit at the points", map[bool]string{true: "met", false: "not met"}[highest <= g.number("limit")])
	a.note("between two points the product may have been warmer than at either")
}

// inches drops what only the conversion has put in: 6 in is at most 6 in.
func inches(millimetres float64) float64 { return quantity.Thousandths(millimetres / 25.4) }
