package main

import (
	"math"
	"regexp"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process/cure"
)

const (
	mm    = 1e-3 // m
	ofDay = 24.0 // hours

	crank      = "Crank, The Mathematics of Diffusion, 2nd ed. 1975 (formulas from memory, each confirmed by Laplace inversion and finite volumes)"
	factorOfD  = "the diffusivity is known to a factor of 1.67 either way (judgement): earliest and latest are that, an 80 % interval"
	calibrated = "assumption: the diffusivity was picked so that a 1.5 in belly in a bag takes the customary 7 days; that custom is no test of it"
)

// pieceKeys say what lies in the cure.
func pieceKeys() []key {
	return []key{
		{name: "thickness", help: "at the thickest place; a round cut: its diameter", read: readLength, needed: true},
		{name: "temp", help: "of the meat, as long as it lies", read: readTemperature, needed: true},
		{name: "shape", help: "slab, cylinder (long round cut) or sphere", read: readShape, taken: "slab", basis: "belly"},
		{name: "skin", help: "on or off; on is a sealed face", read: readWord("off", "on"), taken: "off", basis: "most belly for this is trimmed"},
		sidesKey(),
		{name: "bath", help: "bag, brine (then weight and brine), or rub (saturated) under solid salt", read: readWord("bag", "brine", "rub", "saturated"), taken: "bag", basis: "a weighed dose in a bag"},
		{name: "water", help: "water of the green meat: loin 74%, ham 65%", read: readPercent, taken: "50%", basis: "belly, from memory"},
		{name: "purge", help: "free liquid in the bag, part of green weight", read: readPercent, taken: "4%", basis: "assumption, 2 to 6 % occur"},
		{name: "weight", help: "green weight", read: readWeight},
		{name: "brine", help: "water of the brine", read: readWeight},
		{name: "alpha", help: "instead of purge or brine: water of the bath over water of the meat; inf: endless", read: readRatio},
		{name: "fraction", help: "centre over equilibrium that is asked for", read: readPercent, taken: "90%", basis: "assumption, 80 to 95 % are defended"},
	}
}

func cureTime() calculator {
	return calculator{
		name: "cure-time", help: "How long a cure takes, by diffusion and by a rule of thumb, side by side.",
		example: "thickness=1.5in temp=4C rule=7d/in days=5d",
		keys: append(pieceKeys(),
			key{name: "rule", help: "your rule: 7d, 7d/in, 4d/lb, or 0.25in/d+2d", read: readThumb, taken: "7d/in", basis: "traditional, common practice without a source; choose your own"},
			key{name: "days", help: "how long it has lain", read: readTime}),
		work: reckonCureTime,
	}
}

func reckonCureTime(g given) (answer, error) {
	piece, err := pieceGiven(g)
	if err != nil {
		return answer{}, err
	}
	rule, err := thumbOf(g.word("rule"))
	if err != nil {
		return answer{}, err
	}
	if rule.Grain == cure.PerPound && !g.has("weight") {
		return answer{}, misuse("weight=2268g beside it", "rule=%s goes by weight, and there is none", g.word("rule"))
	}
	c := piece.Compare(rule, g.number("fraction"), g.number("temp"))
	a := answer{Model: "Fick diffusion of salt in the water of the meat, limited bath, one dimension", Source: crank, Uncertainty: factorOfD}
	a.add("model days", c.ModelDays, "d")
	a.add("model earliest", c.Earliest, "d")
	a.add("model latest", c.Latest, "d")
	a.add("rule days", c.RuleDays, "d")
	a.add("centre at rule days", c.Centre, "of equilibrium")
	a.say("model at rule days", string(c.Reach))
	if g.has("days") {
		state(&a, piece, g)
	}
	a.mark(calibrated)
	a.mark("rule of thumb " + rule.String() + ": " + thumbSource(rule))
	a.note("by your rule and by the model: neither says that it is done; judge by the slowest piece, at its thickest place")
	if text := c.Parting(rule, piece.ThicknessM); text != "" {
		a.add("they part at", c.PartM/mm, "mm")
		a.note("%s", text)
	}
	a.note("firm comes before through: the piece becomes firm (common practice, no source), the mean uptake on the day of the rule is %.0f %%, and firmness itself is not modelled", 100*c.Mean)
	warnings(&a, g)
	return a, nil
}

// state judges a cure after some days.
func state(a *answer, p cure.Piece, g given) {
	h, temp, fraction := g.number("days"), g.number("temp"), g.number("fraction")
	path := cure.Path(p.Cut.Shape, p.ThicknessM, p.SkinOn)
	tau := cure.Tau(temp, temp, h, path)
	left := p.Cut.Finish(fraction, tau, path, temp)
	a.say("state", string(p.Cut.Reached(fraction, tau)))
	a.add("centre now", p.Cut.Centre(tau), "of equilibrium")
	a.add("mean now", p.Cut.Mean(tau), "of equilibrium")
	a.add("days left", left.Hours/ofDay, "d")
	a.add("days left earliest", left.Earliest/ofDay, "d")
	a.add("days left latest", left.Latest/ofDay, "d")
}

func warnings(a *answer, g given) {
	switch temp := g.number("temp"); {
	case temp < cure.FrozenBelowC:
		a.note("below -2 °C nothing moves (assumption): it never gets there")
	case temp < 2.2:
		a.note("below 2.2 °C the cure is slow")
	case temp > 10:
		a.note("above 10 °C bacteria grow fast in meat that has no salt yet: not a place to cure in (USDA farm bulletin, seen)")
	case temp > 4.4445:
		a.note("above 4.4 °C (40 °F), the line for curing meat (NCHFP, USDA farm bulletin: seen)")
	}
	if saturated(g) {
		a.note(oversalts)
	}
}

const oversalts = "under solid salt, waiting goes on salting: judge by the mean salt, not by the centre"

// saturated is a piece under solid salt.
func saturated(g given) bool { return g.word("bath") == "rub" || g.word("bath") == "saturated" }

// readRatio is readNumber, at least 0, and inf.
var readRatio = reader{"0.087", func(text string) (value, error) {
	if strings.EqualFold(text, "inf") {
		return value{number: math.Inf(1)}, nil
	}
	n, err := parseNumber(text)
	if err == nil && n < 0 {
		err = misuse("0.087, or inf for an endless bath", "%q is not a ratio of two amounts of water", text)
	}
	return value{number: n}, err
}}

func sidesKey() key {
	return key{name: "sides", help: "instead of skin: faces that are open, 2 or 1", read: readWord("2", "1")}
}

// skinGiven is whether one face is sealed.
func skinGiven(g given) (bool, error) {
	if _, typed := g.typed["skin"]; typed && g.has("sides") {
		return false, misuse("skin or sides", "skin and sides say the same thing")
	}
	return g.word("skin") == "on" || g.word("sides") == "1", nil
}

// pieceGiven makes the piece in its bath.
func pieceGiven(g given) (cure.Piece, error) {
	sealed, err := skinGiven(g)
	p := cure.Piece{ThicknessM: g.number("thickness") * mm, SkinOn: sealed, GreenG: g.number("weight")}
	if err != nil {
		return p, err
	}
	p.Cut.Shape = map[string]cure.Shape{"slab": cure.Slab, "cylinder": cure.Cylinder, "sphere": cure.Sphere}[g.word("shape")]
	if p.SkinOn && p.Cut.Shape != cure.Slab {
		return p, misuse("shape=slab", "a sealed face is for a slab")
	}
	if f := g.number("fraction"); !(f > 0 && f < 1) {
		return p, misuse("fraction=90%", "the fraction is to lie between 0 and 100 %%")
	}
	water := g.number("water")
	switch {
	case g.has("alpha"):
		p.Cut.Alpha = g.number("alpha")
	case saturated(g):
		p.Cut.Alpha = math.Inf(1)
	case g.word("bath") == "brine":
		if !g.has("weight") || !g.has("brine") || !(water > 0) {
			return p, misuse("weight=2kg brine=1.5kg", "a brine needs the green weight and the water of the brine")
		}
		p.Cut.Alpha = cure.Brine(g.number("weight"), water, g.number("brine"), 0, 0).Alpha
	default:
		if !(water > g.number("purge")) {
			return p, misuse("purge=4%", "more purge than there is water in the meat")
		}
		p.Cut.Alpha = cure.Bag(1, water, g.number("purge"), 0, 0).Alpha
	}
	return p, nil
}

var (
	daysRule  = regexp.MustCompile(`^(\d{1,3}(?:\.\d+)?)d(/in|/lb)?$`)
	eachRule  = regexp.MustCompile(`^(\d{1,2}(?:\.\d+)?)in/d(?:\+(\d{1,3}(?:\.\d+)?)d)?$`)
	readThumb = reader{"7d/in", func(text string) (value, error) {
		_, err := thumbOf(text)
		return value{word: text}, err
	}}
)

// thumbOf reads "7d", "7d/in", "4d/lb" or "0.25in/d+2d".
func thumbOf(text string) (cure.Thumb, error) {
	var t cure.Thumb
	if m := daysRule.FindStringSubmatch(text); m != nil {
		t.Amount, _ = plain.Number(m[1]) // the pattern takes only numbers
		t.Grain = map[string]cure.Grain{"": cure.FixedDays, "/in": cure.PerInch, "/lb": cure.PerPound}[m[2]]
	} else if m := eachRule.FindStringSubmatch(text); m != nil {
		t.Grain = cure.FromEachWay
		t.Amount, _ = plain.Number(m[1])
		if m[2] != "" {
			t.Plus, _ = plain.Number(m[2])
		}
	}
	if !(t.Amount > 0) {
		return t, misuse("7d, 7d/in, 4d/lb or 0.25in/d+2d", "%q is not a rule of thumb", text)
	}
	return t, nil
}

// thumbSource says where a rule is from, if it is one that was met.
func thumbSource(t cure.Thumb) string {
	for _, known := range cure.Thumbs() {
		if known.Grain == t.Grain && known.Amount == t.Amount && known.Plus == t.Plus {
			return known.Source
		}
	}
	return "yours"
}
