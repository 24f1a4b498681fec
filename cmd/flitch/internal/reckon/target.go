package reckon

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/lethality"
)

// targetNames are lethality.Targets, in their order.
var targetNames = [...]string{"salmonella", "salmonella-fit", "listeria", "burger"}

// targetKeys say what is to be killed: a target by its name, or numbers of your own.
func targetKeys() []Key {
	return []Key{
		{Name: "target", Help: strings.Join(targetNames[:], ", ") + "; or a name of yours for the numbers", Read: readTarget, Taken: "salmonella", Basis: "the default target for meat"},
		{Name: "ref", Help: "or your own target: reference temperature", Read: readTemperature},
		{Name: "z", Help: "its kelvins for a tenfold change of rate", Read: readDifference},
		{Name: "z-above", Help: "the same above ref, when it differs", Read: readDifference},
		{Name: "d-ref", Help: "its time for one decimal reduction at ref", Read: readTime},
		{Name: "floor", Help: "no credit below, or none", Read: readBound},
		{Name: "cap", Help: "no more credit above, or none", Read: readBound},
	}
}

// readTarget takes any word: only with numbers of its own may it be unknown.
var readTarget = Reader{Example: "salmonella", value: func(text string) (value, error) {
	word := strings.TrimSpace(text)
	if word == "" || len(word) > 60 {
		return value{}, misuse("target=salmonella", "%q is no name of a target", text)
	}
	return value{word: word}, nil
}}

// readBound takes a temperature or "none". One that no probe shows is taken as none:
// tables have -1000 and 1000 for it.
var readBound = Reader{Example: "54.44C", Degrees: Temperature, value: func(text string) (value, error) {
	if strings.EqualFold(strings.TrimSpace(text), "none") {
		return value{number: math.NaN()}, nil
	}
	number, unit, err := quantity.Split(text)
	if err == nil && strings.EqualFold(unit, "C") && (number < quantity.Coldest || number > quantity.Hottest) {
		return value{number: math.NaN()}, nil
	}
	c, err := quantity.ExactTemperature(text)
	return value{number: c}, err
}}

// ownKeys are those that every target of one's own needs. Floor and cap are among
// them, because a limit that nobody said is a guess that earns or loses credit.
var ownKeys = [...]string{"ref", "z", "d-ref", "floor", "cap"}

// targetGiven is the target, and whether its numbers are the user's own.
func targetGiven(g given) (t lethality.Target, own bool, err error) {
	known := slices.IndexFunc(targetNames[:], func(name string) bool { return sameWord(name, g.word("target")) })
	var missing []string
	own = g.has("z-above")
	for _, name := range ownKeys {
		own = own || g.has(name)
		if !g.has(name) {
			missing = append(missing, name)
		}
	}
	switch {
	case !own && known < 0:
		return t, false, misuse(Closest(g.word("target"), targetNames[:])+"; or its numbers: ref, z, d-ref, floor, cap", "%q is none of %s", g.word("target"), strings.Join(targetNames[:], ", "))
	case !own:
		return lethality.Targets()[known], false, nil
	case len(missing) > 0:
		return t, true, misuse("ref=60C z=5.56C d-ref=1.951min floor=54.44C cap=70C; floor and cap may be none", "your own target needs %s too", strings.Join(missing, ", "))
	}
	t, err = ownTarget(g)
	if _, named := g.typed["target"]; err == nil && named && known >= 0 && !near(t, lethality.Targets()[known]) {
		err = misuse("another name, or its numbers left out", "these are not the numbers of the target %s", targetNames[known])
	}
	return t, true, err
}

func ownTarget(g given) (lethality.Target, error) {
	t := lethality.Target{
		RefC: g.number("ref"), ZC: g.number("z"), ZAboveC: g.number("z-above"), DRefMin: 60 * g.number("d-ref"),
		FloorC: g.number("floor"), CapC: g.number("cap"), Name: "your own target", Source: "yours: no one has checked the numbers",
	}
	if _, named := g.typed["target"]; named {
		t.Name = g.word("target")
	}
	if math.IsNaN(t.FloorC) {
		t.FloorC = math.Inf(-1)
	}
	if math.IsNaN(t.CapC) {
		t.CapC = math.Inf(1)
	}
	switch {
	case !(t.ZC >= 1) || g.has("z-above") && !(t.ZAboveC >= 1):
		return t, misuse("z=5.56C", "a z under 1 K is known of nothing")
	case !(t.FloorC < t.CapC):
		return t, misuse("floor=54.44C cap=70C", "the floor is not below the cap")
	}
	t.Name += fmt.Sprintf(", D%.4g %.4g min, z %.3g K, %s", t.RefC, t.DRefMin, t.ZC, bounds(t))
	return t, nil
}

// bounds says from where to where there is credit.
func bounds(t lethality.Target) string {
	floor, top := "no floor", "no cap"
	if !math.IsInf(t.FloorC, 0) {
		floor = fmt.Sprintf("floor %g °C", t.FloorC)
	}
	if !math.IsInf(t.CapC, 0) {
		top = fmt.Sprintf("cap %g °C", t.CapC)
	}
	return floor + " and " + top
}

// near is whether two targets are one, but for the digits they are printed with.
func near(a, b lethality.Target) bool {
	same := func(x, y float64) bool { return x == y || math.Abs(x-y) <= 1e-4*math.Abs(y) }
	return same(a.RefC, b.RefC) && same(a.ZC, b.ZC) && same(a.ZAboveC, b.ZAboveC) && same(a.DRefMin, b.DRefMin) &&
		same(a.FloorC, b.FloorC) && same(a.CapC, b.CapC)
}
