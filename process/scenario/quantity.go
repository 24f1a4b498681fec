package scenario

import (
	"strings"

	"flitch/process"
)

// A Quantity is a value as it was written.
type Quantity struct {
	Number float64
	Unit   string // C, F, %, g, kg, lb, oz, W, mm, cm, in, or open and closed for a door
}

func (q Quantity) String() string {
	if q.Unit == "open" || q.Unit == "closed" {
		return q.Unit
	}
	return number(q.Number) + q.Unit
}

func (q Quantity) zero() bool { return q == Quantity{} }

// grams and millimetres in one unit.
var (
	grams       = map[string]float64{"g": 1, "kg": 1000, "lb": 453.59237, "oz": 453.59237 / 16}
	millimetres = map[string]float64{"mm": 1, "cm": 10, "in": 25.4}
)

// quantity reads a number and its unit.
func quantity(text, example string) (Quantity, error) {
	switch text {
	case "open":
		return Quantity{1, text}, nil
	case "closed":
		return Quantity{0, text}, nil
	}
	digits := text[:len(text)-len(strings.TrimLeft(text, "+-.,0123456789"))]
	v, ok := isNumber(digits)
	switch {
	case ok:
		return Quantity{v, strings.TrimPrefix(text[len(digits):], "°")}, nil
	case strings.Contains(digits, ","):
		return Quantity{}, wrong(strings.ReplaceAll(text, ",", "."), "%q: a decimal point, not a comma", text)
	}
	return Quantity{}, wrong(example, "%q is not a value with its unit", text)
}

// unitsOf are the units of a placement.
func unitsOf(p process.Placement) []string {
	switch {
	case p.IsTemperature():
		return []string{"C", "F"}
	case p == process.Humidity:
		return []string{"%"}
	case p == process.Weight:
		return []string{"g", "kg", "lb", "oz"}
	case p == process.Power:
		return []string{"W"}
	case p == process.Door:
		return []string{"open", "closed"}
	case p == process.PH:
		return []string{""}
	}
	return nil
}

// check complains about a unit that the placement does not have.
func (q Quantity) check(p process.Placement) error {
	units := unitsOf(p)
	for _, u := range units {
		if u == q.Unit {
			return nil
		}
	}
	return wrong("the unit: "+strings.Join(units, ", "), "%s is not a value of %s", q, p)
}

// value is in the unit that readings of a placement have.
func (q Quantity) value() float64 {
	switch q.Unit {
	case "F":
		return (q.Number - 32) / 1.8
	case "g", "kg", "lb", "oz":
		return q.Number * grams[q.Unit]
	}
	return q.Number
}

// difference is a width in that unit.
func (q Quantity) difference() float64 {
	if q.Unit == "F" {
		return q.Number / 1.8
	}
	return q.value()
}
