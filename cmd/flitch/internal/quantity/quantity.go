// Package quantity reads what a person types with its unit: weights, thicknesses,
// temperatures, doses. The command line and the page read them alike, and complain in the
// same words.
package quantity

import (
	"math"
	"regexp"
	"strings"

	"flitch/cmd/flitch/internal/plain"
)

// Factors to the units flitch counts in. Pound and ounce: international
// avoirdupois pound of 1959, 0.45359237 kg exactly. Inch: 25.4 mm exactly.
var (
	Grams       = []Factor{{"g", 1}, {"kg", 1000}, {"lb", 453.59237}, {"oz", 453.59237 / 16}}
	Millimetres = []Factor{{"mm", 1}, {"cm", 10}, {"in", 25.4}}
)

// A Factor is a unit and how much of our own unit it is.
type Factor struct {
	Unit string
	Of   float64
}

// Weight reads "2268g", "2.268kg", "5lb" or "80oz" as g, > 0.
func Weight(text string) (float64, error) { return parseSize(text, "a weight", "2268g", Grams) }

// Length reads "38mm", "3.8cm" or "1.5in" as mm, > 0.
func Length(text string) (float64, error) {
	return parseSize(text, "a thickness", "38mm", Millimetres)
}

func parseSize(text, what, example string, factors []Factor) (float64, error) {
	number, unit, err := Split(text)
	if err != nil {
		return 0, err
	}
	var units []string
	for _, f := range factors {
		units = append(units, f.Unit)
		if !strings.EqualFold(unit, f.Unit) {
			continue
		}
		if size := Thousandths(number * f.Of); size > 0 && !math.IsInf(size, 0) {
			return size, nil
		}
		return 0, Misuse(example, "%q is not %s above zero", text, what)
	}
	if unit == "" {
		return 0, Misuse(text+units[0]+", if "+units[0]+" was meant; else "+strings.Join(units[1:], ", "), "%q has no unit", text)
	}
	return 0, Misuse("one of "+strings.Join(units, ", ")+", as in "+example, "%q is not a unit of %s", unit, what)
}

// Bounds of a hand reading, °C: colder than any freezer, hotter than any smoker.
// Outside of them it is a slip: proposal.
const (
	Coldest = -60 // °C
	Hottest = 400 // °C
)

// Temperature reads "61.5C", "142F" or "335K" as °C.
func Temperature(text string) (float64, error) {
	number, unit, err := Split(text)
	if err != nil {
		return 0, err
	}
	celsius := number
	switch strings.ToUpper(strings.TrimPrefix(unit, "°")) {
	case "C":
	case "F":
		celsius = (number - 32) / 1.8
	case "K":
		celsius = number - 273.15
	case "":
		return 0, Misuse(text+"C or "+text+"F", "%q has no unit", text)
	default:
		return 0, Misuse("C, F or K, as in 61.5C", "%q is not a unit of temperature", unit)
	}
	if celsius < Coldest || celsius > Hottest {
		return 0, Misuse("a temperature from -60C to 400C", "%q is %.0f °C", text, celsius)
	}
	return Thousandths(celsius), nil
}

// Thousandths drops what only the conversion has put in: 1.5 in is 38.1 mm, not
// 38.099999999999994. No scale or thermometer here shows as much.
func Thousandths(x float64) float64 { return math.Round(x*1000) / 1000 }

var (
	quantity = regexp.MustCompile(`^([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([^\d\s.,+-]*)$`)
	comma    = regexp.MustCompile(`^[+-]?\d*,\d+\s*[^\d\s.,+-]*$`)
)

// Split takes a number and its unit apart. A comma is never guessed at: 2,268 kg
// is two kilograms to one reader and two tonnes to another.
func Split(text string) (number float64, unit string, err error) {
	text = strings.TrimSpace(text)
	if comma.MatchString(text) {
		return 0, "", Misuse(strings.Replace(text, ",", ".", 1), "%q has a decimal comma", text)
	}
	parts := quantity.FindStringSubmatch(text)
	if parts == nil {
		return 0, "", Misuse("digits, a point if needed, and a unit: 61.5C, 2268g, 38mm", "%q is not a number with a unit", text)
	}
	number, ok := plain.Number(parts[1])
	if !ok {
		return 0, "", Misuse("a smaller number", "%q is too large", text)
	}
	return number, parts[2], nil
}
