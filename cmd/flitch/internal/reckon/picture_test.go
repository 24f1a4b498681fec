package reckon

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/quantity"
)

func pairs(t *testing.T, line string) []Pair {
	t.Helper()
	p, err := PairsOf(strings.Fields(line))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// What is drawn is what is answered: the deepest point is through when the model says so,
// and the core passes the limit at the time that is forecast.
func TestPicturesShowTheAnswer(t *testing.T) {
	for _, line := range []string{"thickness=1.5in temp=4C days=5d", "thickness=1.5in temp=4C skin=on fraction=80%", "thickness=3in temp=4C shape=cylinder bath=rub"} {
		p, ok := CureProfile(pairs(t, line))
		a, err := cureTime().Answer(pairs(t, line))
		if !ok || err != nil || len(p.Curves) != 2 {
			t.Fatalf("%s: %v %v", line, ok, err)
		}
		finish := p.Curves[1]
		if !finish.Finish || math.Abs(slices.Min(finish.Mid)-p.Through) > 1e-3 || math.Abs(finish.Days-*a.Results[0].Value) > 1e-9 {
			t.Errorf("%s: through at %g d with %g, answered %g d", line, finish.Days, slices.Min(finish.Mid), *a.Results[0].Value)
		}
	}
	c, ok := ChillCourse(pairs(t, "core=54.44C air=3C tau=3h option=B3 left=6h"))
	if !ok || len(c.Legs) != 3 || c.CoreC[0] != 54.44 {
		t.Fatalf("%v %+v", ok, c.Legs)
	}
	for _, leg := range c.Legs {
		if at := 3 + (54.44-3)*math.Exp(-leg.End/3); math.Abs(at-leg.ToC) > 1e-9 {
			t.Errorf("at the end of a leg the core is %g °C, not %g", at, leg.ToC)
		}
	}
	for _, line := range []string{"core=54C", "core=54C air=3C tau=3h", "core=20C air=3C tau=3h option=B3"} {
		if _, ok := ChillCourse(pairs(t, line)); ok {
			t.Errorf("%s is drawn", line)
		}
	}
}

// A complaint is about the key that its hint tells to type, and none that is only a word.
func TestBlame(t *testing.T) {
	for line, want := range map[string]string{
		"cure-time thickness=1.5in temp=4C rule=4d/lb":   "weight",
		"cure-time thickness=1.5in temp=4C purge=60%":    "purge",
		"dose green=1kg nitrite=62% ppm=120":             "nitrite",
		"dose green=1kg nitrite=6.25% ppm=201 rule=us":   "ppm",
		"dose nitrite=6.25% ppm=120":                     "green",
		"chill core=54C air=3C":                          "tau",
		"heat-time from=4C to=60C air=50C thickness=4cm": "to",
		"boiling-point ice=3C boil=1C":                   "ice",
		"wet-bulb dry=20C wet=25C":                       "wet",
	} {
		name, rest, _ := strings.Cut(line, " ")
		c, err := Named(name)
		if err != nil {
			t.Fatal(err)
		}
		_, err = c.Answer(pairs(t, rest))
		of, ok := errors.AsType[*quantity.Complaint](err)
		if !ok || c.Blame(of) != want {
			t.Errorf("%s: %v is about %q, want %q", line, err, c.Blame(of), want)
		}
	}
	if name := chillReckoning().Blame(&quantity.Complaint{What: "too near to h", Try: "more of k, or to wait"}); name != "" {
		t.Errorf("a word of two letters was taken for key %s", name)
	}
	wrong := cureTime().Wrong(pairs(t, "thickness=38 rule=much"))
	if len(wrong) != 3 || wrong["temp"] == nil || wrong["thickness"] == nil || wrong["rule"] == nil {
		t.Errorf("wrong is %v", wrong)
	}
}
