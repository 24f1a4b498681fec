package quantity

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"flitch/cmd/flitch/internal/plain"
)

// Factors to hours and to metres of altitude. A foot is 0.3048 m exactly.
var (
	hours     = []Factor{{"h", 1}, {"min", 1.0 / 60}, {"d", 24}, {"s", 1.0 / 3600}}
	altitudes = []Factor{{"m", 1}, {"ft", 0.3048}}
	pressures = []Factor{{"Pa", 1}, {"hPa", 100}, {"mbar", 100}, {"kPa", 1000}, {"bar", 1e5}, {"inHg", 3386.389}}
)

// Factors to grams and millimetres, with those that a person does not type but a
// column file has.
var (
	weights = append(Grams[:len(Grams):len(Grams)], Factor{"mg", 0.001})
	lengths = append(Millimetres[:len(Millimetres):len(Millimetres)], Factor{"m", 1000})
)

// ExactTemperature is Temperature without rounding: 130F is the row of 130 °F in a
// table, and 54.444 °C is under it.
func ExactTemperature(text string) (float64, error) {
	if _, err := Temperature(text); err != nil {
		return 0, err
	}
	number, unit, err := Split(text)
	switch strings.ToUpper(strings.TrimPrefix(unit, "°")) {
	case "F":
		return (number - 32) / 1.8, err
	case "K":
		return number - 273.15, err
	}
	return number, err
}

// ExactWeight is Weight without rounding, and with mg.
func ExactWeight(text string) (float64, error) { return exactSize(text, "a weight", "2268g", weights) }

// ExactDoseWeight is ExactWeight, without spoons.
func ExactDoseWeight(text string) (float64, error) {
	if err := NoSpoon(text); err != nil {
		return 0, err
	}
	return ExactWeight(text)
}

// ExactLength is Length without rounding, and with m.
func ExactLength(text string) (float64, error) {
	return exactSize(text, "a thickness", "38mm", lengths)
}

// Amount reads a weight that may be nothing, g.
func Amount(text string) (float64, error) {
	return Measure(text, "a weight", "56.7g", weights, true)
}

func exactSize(text, what, example string, factors []Factor) (float64, error) {
	size, err := Measure(text, what, example, factors, true)
	if err == nil && size == 0 {
		return 0, Misuse(example, "%q is not %s above zero", text, what)
	}
	return size, err
}

var exponent = regexp.MustCompile(`^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)[eE][+-]?\d{1,2})(.*)$`)

// WithoutExponent writes 5e-11 in full: programs print such numbers into column files.
func WithoutExponent(text string) string {
	m := exponent.FindStringSubmatch(text)
	if m == nil {
		return text
	}
	number, ok := plain.Number(m[1])
	if !ok {
		return text
	}
	return strconv.FormatFloat(number, 'f', -1, 64) + m[2]
}

// Hours reads "90min", "6h", "7d" or "30s" as hours, above zero.
func Hours(text string) (float64, error) {
	h, err := Measure(text, "a time", "90min", hours, true)
	if err == nil && h == 0 {
		return 0, Misuse("90min", "%q is not a time above zero", text)
	}
	return h, err
}

// SinceStart reads a time that may be nothing, h: of a point of a profile.
func SinceStart(text string) (float64, error) { return Measure(text, "a time", "90min", hours, true) }

// Pressure reads "955hPa" or "28.2inHg" as Pa.
func Pressure(text string) (float64, error) {
	return Measure(text, "a pressure", "955hPa", pressures, true)
}

// Altitude reads "500m" or "1640ft" as metres; places under the sea exist.
func Altitude(text string) (float64, error) {
	return Measure(text, "an altitude", "500m", altitudes, false)
}

// Measure reads a number and a unit without rounding it. Nothing is below zero
// unless it may be.
func Measure(text, what, example string, factors []Factor, positive bool) (float64, error) {
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
		size := number * f.Of
		if math.IsInf(size, 0) || positive && size < 0 {
			return 0, Misuse(example, "%q is not %s", text, what)
		}
		return size, nil
	}
	if unit == "" && positive && number < 0 {
		return 0, Misuse(example, "%q is not %s", text, what)
	}
	if unit == "" && len(units) == 1 {
		return 0, Misuse(text+units[0]+", if "+units[0]+" was meant", "%q has no unit", text)
	}
	if unit == "" {
		return 0, Misuse(text+units[0]+", if "+units[0]+" was meant; else "+strings.Join(units[1:], ", "), "%q has no unit", text)
	}
	return 0, Misuse("one of "+strings.Join(units, ", ")+", as in "+example, "%q is not a unit of %s", unit, what)
}

// Difference reads "0.5C" or "1F" as kelvins, at least 0.
func Difference(text string) (float64, error) {
	kelvins := []Factor{{"C", 1}, {"F", 1 / 1.8}, {"K", 1}}
	return Measure(text, "a difference of temperature", "0.5C", kelvins, true)
}

// Plain reads a plain number, such as a pH.
func Plain(text string) (float64, error) {
	number, unit, err := Split(text)
	if err == nil && unit != "" {
		return 0, Misuse("5.8", "%q has a unit, a plain number was expected", text)
	}
	return number, err
}
