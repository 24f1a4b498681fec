// Package reckon answers one question by one model: how long, how much, how warm. The
// command, the page and the JSON API ask the same calculators, so that they cannot differ.
// Values are typed with units; an answer says its model, its source and how far off it may be.
package reckon

import (
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/quantity"
)

// A Calculator is one model with its keys: data and one function.
type Calculator struct {
	Name    string
	Help    string
	Example string
	Keys    []Key
	work    func(given) (Answer, error)
}

// Calculators is the table; each is a file of its own.
func Calculators() []Calculator {
	return []Calculator{
		cureTime(), cureProgress(), cureParts(), saltRest(), doseReckoning(), nitriteLeft(), dryTime(), dryProgress(), waterActivity(), freezingPoint(), trichinaFreezing(), productHold(),
		lethalityReckoning(), dangerZone(), growthReckoning(), degreeHours(),
		heatTime(), meatProperties(), chillReckoning(), wetBulb(), boilingPoint(), stallReckoning(), meanKinetic(),
	}
}

func Named(name string) (Calculator, error) {
	var names []string
	for _, c := range Calculators() {
		if c.Name == name {
			return c, nil
		}
		names = append(names, c.Name)
	}
	return Calculator{}, misuse(Closest(name, names), "there is no calculator %q", name)
}

// Answer reads what is typed and works it out. Nothing typed is guessed at; what is
// taken for a key left out is in the answer.
func (c Calculator) Answer(typed []Pair) (Answer, error) {
	g, err := c.read(typed)
	if err != nil {
		return Answer{}, err
	}
	a, err := c.work(g)
	if err != nil {
		if _, ok := err.(*quantity.Complaint); !ok {
			err = misuse("flitch reckon "+c.Name+" for its keys", "%v", err)
		}
		return Answer{}, err
	}
	a.Calculator, a.Given = c.Name, g.typed
	for _, t := range g.taken {
		if !slices.Contains(a.unused, t.Key) {
			a.Taken = append(a.Taken, t)
		}
	}
	return a, a.check()
}

// Without says what happens when the key is left out.
func (k Key) Without() string {
	switch {
	case k.Needed:
		return "needed, as " + k.Name + "=" + k.Read.Example
	case k.Taken != "":
		return strings.TrimSpace(k.Taken + " when left out; " + k.Basis)
	}
	return "as " + k.Name + "=" + k.Read.Example
}
