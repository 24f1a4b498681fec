package reckon

import (
	"math"
	"strings"

	"flitch/process/heat"
	"flitch/process/rules"
)

const newton = "Newton cooling of the centre; textbook series for the body (Incropera, from memory, confirmed by independent sums)"

// bodyKeys say what is heated or chilled.
func bodyKeys() []Key {
	return []Key{
		{Name: "air", Help: "temperature of the air", Read: readTemperature, Needed: true},
		{Name: "thickness", Help: "at the thickest place; a round cut: its diameter", Read: readLength},
		{Name: "shape", Help: "slab, cylinder or sphere", Read: readShape, Taken: "slab", Basis: "belly"},
		{Name: "h", Help: "heat transfer, W/(m² K): still air 5, fan 20", Read: readNumber, Taken: "10", Basis: "assumption"},
		{Name: "k", Help: "conductivity, W/(m K), instead of water and fat; with it the diffusivity", Read: readNumber},
		{Name: "diffusivity", Help: "of heat, m²/s, as 1.35e-7", Read: readNumber},
		{Name: "water", Help: "of the meat", Read: readPercent, Taken: "50%", Basis: "belly, from memory"},
		{Name: "fat", Help: "of the meat", Read: readPercent, Taken: "35%", Basis: "assumption; the rest is taken as protein"},
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

func heatTime() Calculator {
	return Calculator{
		Name: "heat-time", Help: "How long the centre of a piece takes to a temperature in air that stays the same.",
		Example: "from=4C to=60C air=80C thickness=38mm",
		Keys: append(bodyKeys(),
			Key{Name: "half-thickness", Help: "instead of the thickness, half of it; a round cut: its radius", Read: readLength},
			Key{Name: "from", Help: "centre at the start", Read: readTemperature, Needed: true},
			Key{Name: "to", Help: "centre asked for", Read: readTemperature, Needed: true}),
		work: func(g given) (Answer, error) {
			from, to, air := g.number("from"), g.number("to"), g.number("air")
			if err := g.only("thickness", "half-thickness"); err != nil {
				return Answer{}, err
			}
			body, err := bodyGiven(g, (from+to)/2)
			if err != nil {
				return Answer{}, err
			}
			hours, ok := body.Hours((to - air) / (from - air))
			if !ok {
				return Answer{}, misuse("to= between from= and air=", "the centre never comes from %s to %s in air of %s", degrees(from), degrees(to), degrees(air))
			}
			tau, _ := body.TauH()
			a := Answer{Model: "conduction in a body in air of constant temperature, exact series; Choi and Okos properties", Source: newton,
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

func chillReckoning() Calculator {
	return Calculator{
		Name: "chill", Help: "When a core passes a limit, the air that would still make it, and the legs of a published option.",
		Example: "core=54.4C air=3C tau=3h option=B3",
		Keys: append(bodyKeys(),
			Key{Name: "core", Help: "temperature now", Read: readTemperature, Needed: true},
			Key{Name: "tau", Help: "its time constant, from the slope; or say the thickness", Read: readTime},
			Key{Name: "to", Help: "limit to pass", Read: readTemperature, Taken: "4.4C", Basis: "40 °F"},
			Key{Name: "left", Help: "time that is left for it", Read: readTime},
			Key{Name: "option", Help: "published option", Read: readWord(rules.ChillNames()...)}),
		work: reckonChill,
	}
}

// coolingGiven is the core on its way: by its time constant, or by the piece.
func coolingGiven(g given) (c heat.Cooling, err error) {
	if err := g.only("tau", "thickness"); err != nil {
		return c, err
	}
	core, air := g.number("core"), g.number("air")
	c = heat.Cooling{NowC: core, SdNow: 0.1, AirC: air, SdAir: heat.SdAirC, TauH: g.number("tau"), SdTau: 0.1 * g.number("tau")}
	if g.has("tau") {
		return c, nil
	}
	body, err := bodyGiven(g, (core+air)/2)
	if err != nil {
		return c, err
	}
	tau, ok := body.TauH()
	if !ok {
		return c, misuse("thickness=38mm h=10", "no such body")
	}
	c.TauH, c.SdTau = tau, tau/3
	return c, nil
}

func reckonChill(g given) (Answer, error) {
	c, err := coolingGiven(g)
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Model: "Newton cooling of the centre", Source: newton,
		Uncertainty: "80 % interval: 10 % of the time constant, 10 % of the forecast, 0.2 K of the air (choices of this project)"}
	if g.has("thickness") {
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

func crossingOf(a *Answer, c heat.Cooling, g given) {
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
func legs(a *Answer, c heat.Cooling, id string) {
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
		a.by(1, "option "+option.ID+", "+option.Edition, option.Source+" ("+option.Provenance+")")
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
