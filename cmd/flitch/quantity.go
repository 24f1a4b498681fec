package main

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"flitch/cmd/flitch/internal/plain"
)

// Factors to the units flitch counts in. Pound and ounce: international
// avoirdupois pound of 1959, 0.45359237 kg exactly. Inch: 25.4 mm exactly.
var (
	grams       = []factor{{"g", 1}, {"kg", 1000}, {"lb", 453.59237}, {"oz", 453.59237 / 16}}
	millimetres = []factor{{"mm", 1}, {"cm", 10}, {"in", 25.4}}
)

type factor struct {
	unit string
	of   float64
}

// parseWeight reads "2268g", "2.268kg", "5lb" or "80oz" as grams, > 0.
func parseWeight(text string) (float64, error) { return parseSize(text, "a weight", "2268g", grams) }

// parseLength reads "38mm", "3.8cm" or "1.5in" as millimetres, > 0.
func parseLength(text string) (float64, error) {
	return parseSize(text, "a thickness", "38mm", millimetres)
}

func parseSize(text, what, example string, factors []factor) (float64, error) {
	number, unit, err := split(text)
	if err != nil {
		return 0, err
	}
	var units []string
	for _, f := range factors {
		units = append(units, f.unit)
		if !strings.EqualFold(unit, f.unit) {
			continue
		}
		if size := thousandths(number * f.of); size > 0 && !math.IsInf(size, 0) {
			return size, nil
		}
		return 0, misuse(example, "%q is not %s above zero", text, what)
	}
	if unit == "" {
		return 0, misuse(text+units[0]+", if "+units[0]+" was meant; else "+strings.Join(units[1:], ", "), "%q has no unit", text)
	}
	return 0, misuse("one of "+strings.Join(units, ", ")+", as in "+example, "%q is not a unit of %s", unit, what)
}

// Bounds of a hand reading, °C: colder than any freezer, hotter than any smoker.
// Outside of them it is a slip: proposal.
const (
	coldest = -60
	hottest = 400
)

// parseTemperature reads "61.5C", "142F" or "335K" as °C.
func parseTemperature(text string) (float64, error) {
	number, unit, err := split(text)
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
		return 0, misuse(text+"C or "+text+"F", "%q has no unit", text)
	default:
		return 0, misuse("C, F or K, as in 61.5C", "%q is not a unit of temperature", unit)
	}
	if celsius < coldest || celsius > hottest {
		return 0, misuse("a temperature from -60C to 400C", "%q is %.0f °C", text, celsius)
	}
	return thousandths(celsius), nil
}

// thousandths drops what only the conversion has put in: 1.5 in is 38.1 mm, not
// 38.099999999999994. No scale or thermometer here shows as much.
func thousandths(x float64) float64 { return math.Round(x*1000) / 1000 }

var (
	quantity = regexp.MustCompile(`^([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([^\d\s.,+-]*)$`)
	comma    = regexp.MustCompile(`^[+-]?\d*,\d+\s*[^\d\s.,+-]*$`)
)

// split takes a number and its unit apart. A comma is never guessed at: 2,268 kg
// is two kilograms to one reader and two tonnes to another.
func split(text string) (number float64, unit string, err error) {
	text = strings.TrimSpace(text)
	if comma.MatchString(text) {
		return 0, "", misuse(strings.Replace(text, ",", ".", 1), "%q has a decimal comma", text)
	}
	parts := quantity.FindStringSubmatch(text)
	if parts == nil {
		return 0, "", misuse("digits, a point if needed, and a unit: 61.5C, 2268g, 38mm", "%q is not a number with a unit", text)
	}
	number, ok := plain.Number(parts[1])
	if !ok {
		return 0, "", misuse("a smaller number", "%q is too large", text)
	}
	return number, parts[2], nil
}

// within puts what was typed around it before a complaint.
func within(flag, typed string, err error) error {
	c, ok := err.(*complaint)
	if !ok {
		return err
	}
	return &complaint{what: fmt.Sprintf("%s %s: %s", flag, typed, c.what), try: c.try, usage: c.usage}
}
