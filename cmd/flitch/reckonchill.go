package main

import (
	"math"
	"strings"

	"flitch/process/heat"
	"flitch/process/rules"
)

const newton = "Newton cooling of the centre; textbook series for the body (Incropera, from memory, confirmed by independent sums)"

// bodyKeys say what is heated or chilled.
func bodyKeys() []key {
	return []key{
		{name: "air", help: "temperature of the air", read: readTemperature, needed: true},
		{name: "thickness", help: "at the thickest place; a round cut: its diameter", read: readLength},
		{name: "shape", help: "slab, cylinder or sphere", read: readShape, taken: "slab", basis: "belly"},
		{name: "h", help: "heat transfer, W/(m² K): still air 5, fan 20", read: readNumber, taken: "10", basis: "assumption"},
		{name: "k", help: "conductivity, W/(m K), instead of water and fat; with it the diffusivity", read: readNumber},
		{name: "diffusivity", help: "of heat, m²/s, as 1.35e-7", read: readNumber},
		{name: "water", help: "of the meat", read: readPercent, taken: "50%", basis: "belly, from memory"},
		{name: "fat", help: "of the meat", read: readPercent, taken: "35%", basis: "assumption; the rest is taken as protein"},
	}
}

// bodyGiven is the piece with the thermal properties of its composition at tC.
func bodyGiven(g given, tC float64) (heat.Body, error) {
	shape := map[string]heat.Shape{"slab": heat.Slab, "cylinder": heat.Cylinder, "sphere": heat.Sphere}[g.word("shape")]
	body := heat.Body{Shape: shape, LengthM: g.number("thickness") * mm / 2, H: g.number("h"), K: g.number("k"), Diffusivity: g.number("diffusivity")}
	if g.has("half-thickness") {
		body.LengthM = g.number("half-thickness") * mm
	}
	if !(body.H > 0) {
		return body, misuse("h=10", "a heat transfer of %g W/(m² K) warms nothing", body.H)
	}
	if g.has("k") || g.has("diffusivity") {
		if !(body.K > 0 && body.Diffusivity > 0) {
			return body, misuse("k=0.49 diffusivity=1.35e-7", "conductivity and diffusivity go together, and are above zero")
		}
		return body, nil
	}
	water, fat := g.number("water"), g.number("fat")
	food, ok := heat.Composition{Water: water, Fat: fat, Protein: 1 - water - fat}.At(tC)
	if !ok {
		return heat.Body{}, misuse("water=50% fat=35%", "no meat is made so, or the temperature is out of range")
	}
	body.K, body.Diffusivity = food.Conductivity, food.Diffusivity()
	return body, nil
}

func heatTime() calculator {
	return calculator{
		name: "heat-time", help: "How long the centre of a piece takes to a temperature in air that stays the same.",
		example: "from=4C to=60C air=80C thickness=38mm",
		keys: append(bodyKeys(),
			key{name: "half-thickness", help: "instead of the thickness, half of it; a round cut: its radius", read: readLength},
			key{name: "from", help: "centre at the start", read: readTemperature, needed: true},
			key{name: "to", help: "centre asked for", read: readTemperature, needed: true}),
		work: func(g given) (answer, error) {
			from, to, air := g.number("from"), g.number("to"), g.number("air")
			if err := g.only("thickness", "half-thickness"); err != nil {
				return answer{}, err
			}
			body, err := bodyGiven(g, (from+to)/2)
			if err != nil {
				return answer{}, err
			}
			hours, ok := body.Hours((to - air) / (from - air))
			if !ok {
				return answer{}, misuse("to= between from= and air=", "the centre never comes from %s to %s in air of %s", degrees(from), degrees(to), degrees(air))
			}
			tau, _ := body.TauH()
			a := answer{Model: "conduction in a body in air of constant temperature, exact series; Choi and Okos properties", Source: newton,
				Uncertainty: "a third either way (judgement): heat transfer is a guess; a wet surface evaporates, stands still in the smoker and cools faster in the chiller"}
			a.add("time", 60*hours, "min")
			a.add("time constant", 60*tau, "min")
			a.mark("assumption: heat transfer and composition unless you gave them")
			if g.has("k") {
				a.unused = []string{"water", "fat"}
			}
			return a, nil
		},
	}
}

func chillReckoning() calculator {
	return calculator{
		name: "chill", help: "When a core passes a limit, the air that would still make it, and the legs of a published option.",
		example: "core=54.4C air=3C tau=3h option=B3",
		keys: append(bodyKeys(),
			key{name: "core", help: "temperature now", read: readTemperature, needed: true},
			key{name: "tau", help: "its time constant, from the slope; or say the thickness", read: readTime},
			key{name: "to", help: "limit to pass", read: readTemperature, taken: "4.4C", basis: "40 °F"},
			key{name: "left", help: "time that is left for it", read: readTime},
			key{name: "option", help: "published option", read: readWord(rules.ChillNames()...)}),
		work: reckonChill,
	}
}

func reckonChill(g given) (answer, error) {
	if err := g.only("tau", "thickness"); err != nil {
		return answer{}, err
	}
	core, air := g.number("core"), g.number("air")
	c := heat.Cooling{NowC: core, SdNow: 0.1, AirC: air, SdAir: heat.SdAirC, TauH: g.number("tau"), SdTau: 0.1 * g.number("tau")}
	a := answer{Model: "Newton cooling of the centre", Source: newton,
		Uncertainty: "80 % interval: 10 % of the time constant, 10 % of the forecast, 0.2 K of the air (choices of this project)"}
	if g.has("thickness") {
		body, err := bodyGiven(g, (core+air)/2)
		if err != nil {
			return a, err
		}
		tau, ok := body.TauH()
		if !ok {
			return a, misuse("thickness=38mm h=10", "no such body")
		}
		c.TauH, c.SdTau = tau, tau/3
		a.Uncertainty = "80 % interval: a third of the time constant (judgement), which rests on a guess of the heat transfer; measure the slope and give tau"
		a.mark("assumption: heat transfer and composition unless you gave them")
	} else {
		a.unused = []string{"shape", "h", "water", "fat"}
	}
	a.add("time constant", 60*c.TauH, "min")
	crossingOf(&a, c, g)
	if g.has("option") {
		legs(&a, c, g.word("option"))
	}
	a.note("a forecast, to warn while ice still helps; the verdict is the rule's, from what is measured")
	return a, nil
}

func crossingOf(a *answer, c heat.Cooling, g given) {
	to := g.number("to")
	x, ok := c.Crossing(to)
	if !ok {
		a.add("time to limit", math.Inf(1), "min")
		a.note("in air of %s the core never passes %s", degrees(c.AirC), degrees(to))
	} else {
		early, late := x.Interval()
		a.add("time to limit", 60*x.Hours, "min")
		a.add("earliest", 60*early, "min")
		a.add("latest", 60*late, "min")
	}
	if !g.has("left") {
		return
	}
	if ok {
		a.add("chance to be late", 100*x.Late(g.number("left")), "%")
	}
	a.add("air that would make it", c.AirNeeded(to, g.number("left")), "°C")
}

// roundedK is what a limit of 54.44 °C, typed as 54.4C, is off by.
const roundedK = 0.06

// legs holds the forecast of each leg against the option.
func legs(a *answer, c heat.Cooling, id string) {
	option, _ := rules.ChillOption(id) // the reader takes only known ones
	for _, leg := range option.Legs {
		from, ok1 := c.Crossing(leg.FromC)
		if leg.FromStart {
			from, ok1 = heat.Crossing{}, true
		}
		to, ok2 := c.Crossing(leg.ToC)
		took := math.Inf(1)
		if ok1 && ok2 {
			took = to.Hours - from.Hours
		}
		name := strings.TrimSpace(legName(leg))
		a.add(name, took, "h")
		a.add(name+", at most", leg.MaxHours, "h")
		if !leg.FromStart && c.NowC < leg.FromC-roundedK {
			a.note("%s: the core is past its beginning; what it took before is not in this", name)
		}
	}
	a.note("option %s, %s: %s; %s (%s)", option.ID, option.Edition, option.Conditions, option.Source, option.Provenance)
}

func legName(l rules.Leg) string {
	from := "start"
	if !l.FromStart {
		from = degrees(l.FromC)
	}
	return from + " to " + degrees(l.ToC)
}
