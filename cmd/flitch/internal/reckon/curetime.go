package reckon

import (
	"math"
	"regexp"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/cmd/flitch/internal/quantity"
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
func pieceKeys() []Key {
	return []Key{
		{Name: "thickness", Help: "at the thickest place; a round cut: its diameter", Read: readLength, Needed: true},
		{Name: "temp", Help: "of the meat, as long as it lies", Read: readTemperature, Needed: true},
		{Name: "shape", Help: "slab, cylinder (long round cut) or sphere", Read: readShape, Taken: "slab", Basis: "belly"},
		{Name: "skin", Help: "on or off; on is a sealed face", Read: readWord("off", "on"), Taken: "off", Basis: "most belly for this is trimmed"},
		sidesKey(),
		{Name: "bath", Help: "bag, brine (then weight and brine), or rub (saturated) under solid salt", Read: readWord("bag", "brine", "rub", "saturated"), Taken: "bag", Basis: "a weighed dose in a bag"},
		{Name: "water", Help: "water of the green meat: loin 74%, ham 65%", Read: readPercent, Taken: "50%", Basis: "belly, from memory"},
		{Name: "purge", Help: "free liquid in the bag, part of green weight", Read: readPercent, Taken: "4%", Basis: "assumption, 2 to 6 % occur"},
		{Name: "weight", Help: "green weight", Read: readWeight},
		{Name: "brine", Help: "water of the brine", Read: readWeight},
		{Name: "alpha", Help: "instead of purge or brine: water of the bath over water of the meat; inf: endless", Read: readRatio},
		{Name: "fraction", Help: "centre over equilibrium that is asked for", Read: readPercent, Taken: "90%", Basis: "assumption, 80 to 95 % are defended"},
	}
}

func cureTime() Calculator {
	return Calculator{
		Name: "cure-time", Help: "How long a cure takes, by diffusion and by a rule of thumb, side by side.",
		Example: "thickness=1.5in temp=4C rule=7d/in days=5d",
		Keys: append(pieceKeys(),
			Key{Name: "rule", Help: "your rule: 7d, 7d/in, 4d/lb, or 0.25in/d+2d", Read: readThumb, Taken: "7d/in", Basis: "traditional, common practice without a source; choose your own"},
			Key{Name: "days", Help: "how long it has lain", Read: readTime}),
		work: reckonCureTime,
	}
}

func reckonCureTime(g given) (Answer, error) {
	piece, err := pieceGiven(g)
	if err != nil {
		return Answer{}, err
	}
	rule, err := thumbOf(g.word("rule"))
	if err != nil {
		return Answer{}, err
	}
	if rule.Grain == cure.PerPound && !g.has("weight") {
		return Answer{}, misuse("weight=2268g beside it", "rule=%s goes by weight, and there is none", g.word("rule"))
	}
	c := piece.Compare(rule, g.number("fraction"), g.number("temp"))
	a := Answer{Model: "Fick diffusion of salt in the water of the meat, limited bath, one dimension", Source: crank, Uncertainty: factorOfD}
	a.add("model days", c.ModelDays, "d")
	a.add("model earliest", c.Earliest, "d")
	a.add("model latest", c.Latest, "d")
	a.add("rule days", c.RuleDays, "d")
	a.by(1, "rule of thumb "+rule.String(), thumbSource(rule))
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
func state(a *Answer, p cure.Piece, g given) {
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

func warnings(a *Answer, g given) {
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
var readRatio = Reader{Example: "0.087", value: func(text string) (value, error) {
	if strings.EqualFold(text, "inf") {
		return value{number: math.Inf(1)}, nil
	}
	n, err := quantity.Plain(text)
	if err == nil && n < 0 {
		err = misuse("0.087, or inf for an endless bath", "%q is not a ratio of two amounts of water", text)
	}
	return value{number: n}, err
}}

func sidesKey() Key {
	return Key{Name: "sides", Help: "instead of skin: faces that are open, 2 or 1", Read: readWord("2", "1")}
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
	readThumb = Reader{Example: "7d/in", value: func(text string) (value, error) {
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
