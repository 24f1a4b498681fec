package main

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"flitch/cmd/flitch/internal/plain"
)

// Factors to hours and to metres of altitude. A foot is 0.3048 m exactly.
var (
	hours     = []factor{{"h", 1}, {"min", 1.0 / 60}, {"d", 24}, {"s", 1.0 / 3600}}
	altitudes = []factor{{"m", 1}, {"ft", 0.3048}}
	pressures = []factor{{"Pa", 1}, {"hPa", 100}, {"mbar", 100}, {"kPa", 1000}, {"bar", 1e5}, {"inHg", 3386.389}}
)

// Factors to grams and millimetres, with those that a person does not type but a
// column file has.
var (
	weights = append([]factor{{"mg", 0.001}}, grams...)
	lengths = append(millimetres[:len(millimetres):len(millimetres)], factor{"m", 1000})
)

// The readers. Each takes what a person types on one line.
var (
	readWeight      = reader{"2268g", numeric(exactWeight)}
	readAmount      = reader{"56.7g", numeric(parseAmount)}
	readLength      = reader{"38mm", numeric(exactLength)}
	readTemperature = reader{"4C", numeric(exactTemperature)}
	readDifference  = reader{"0.5C", numeric(parseDifference)}
	readTime        = reader{"90min", numeric(parseHours)}
	readPercent     = reader{"35%", numeric(parsePart)}
	readAltitude    = reader{"500m", numeric(parseAltitude)}
	readPressure    = reader{"955hPa", numeric(func(s string) (float64, error) { return measure(s, "a pressure", "955hPa", pressures, true) })}
	readNumber      = reader{"5.8", numeric(parseNumber)}
	readPPM         = reader{"120ppm", numeric(parsePPM)}
	readProfile     = reader{"0min:60C|12min:65C", profile(exactTemperature)}
)

func numeric(parse func(string) (float64, error)) func(string) (value, error) {
	return func(text string) (value, error) {
		number, err := parse(text)
		return value{number: number}, err
	}
}

// readWord takes one of the words.
func readWord(words ...string) reader {
	return reader{words[0], func(text string) (value, error) {
		for _, word := range words {
			if sameWord(word, text) {
				return value{word: word}, nil
			}
		}
		return value{}, misuse(closest(text, words), "%q is none of %s", text, strings.Join(words, ", "))
	}}
}

func sameWord(a, b string) bool {
	return strings.EqualFold(strings.ReplaceAll(a, "_", "-"), strings.ReplaceAll(b, "_", "-"))
}

// alias is a reader that knows one more word for one of its own.
func (r reader) alias(also, word string) reader {
	return reader{r.example, func(text string) (value, error) {
		if sameWord(also, text) {
			return r.value(word)
		}
		return r.value(text)
	}}
}

// readShape takes the short word of tables too.
var readShape = readWord("slab", "cylinder", "sphere").alias("cyl", "cylinder")

// exactTemperature is parseTemperature without rounding: 130F is the row of 130 °F in a
// table, and 54.444 °C is under it.
func exactTemperature(text string) (float64, error) {
	if _, err := parseTemperature(text); err != nil {
		return 0, err
	}
	number, unit, err := split(text)
	switch strings.ToUpper(strings.TrimPrefix(unit, "°")) {
	case "F":
		return (number - 32) / 1.8, err
	case "K":
		return number - 273.15, err
	}
	return number, err
}

// exactWeight is parseWeight without rounding, and with mg.
func exactWeight(text string) (float64, error) { return exactSize(text, "a weight", "2268g", weights) }

// exactLength is parseLength without rounding, and with m.
func exactLength(text string) (float64, error) {
	return exactSize(text, "a thickness", "38mm", lengths)
}

// parseAmount reads a weight that may be nothing, g.
func parseAmount(text string) (float64, error) {
	return measure(text, "a weight", "56.7g", weights, true)
}

func exactSize(text, what, example string, factors []factor) (float64, error) {
	size, err := measure(text, what, example, factors, true)
	if err == nil && size == 0 {
		return 0, misuse(example, "%q is not %s above zero", text, what)
	}
	return size, err
}

var exponent = regexp.MustCompile(`^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)[eE][+-]?\d{1,2})(.*)$`)

// withoutExponent writes 5e-11 in full: programs print such numbers into column files.
func withoutExponent(text string) string {
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

// parseHours reads "90min", "6h", "7d" or "30s" as hours, above zero.
func parseHours(text string) (float64, error) {
	h, err := measure(text, "a time", "90min", hours, true)
	if err == nil && h == 0 {
		return 0, misuse("90min", "%q is not a time above zero", text)
	}
	return h, err
}

// parseAltitude reads "500m" or "1640ft" as metres; places under the sea exist.
func parseAltitude(text string) (float64, error) {
	return measure(text, "an altitude", "500m", altitudes, false)
}

// measure reads a number and a unit without rounding it. Nothing is below zero
// unless it may be.
func measure(text, what, example string, factors []factor, positive bool) (float64, error) {
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
		size := number * f.of
		if math.IsInf(size, 0) || positive && size < 0 {
			return 0, misuse(example, "%q is not %s", text, what)
		}
		return size, nil
	}
	if unit == "" && positive && number < 0 {
		return 0, misuse(example, "%q is not %s", text, what)
	}
	if unit == "" && len(units) == 1 {
		return 0, misuse(text+units[0]+", if "+units[0]+" was meant", "%q has no unit", text)
	}
	if unit == "" {
		return 0, misuse(text+units[0]+", if "+units[0]+" was meant; else "+strings.Join(units[1:], ", "), "%q has no unit", text)
	}
	return 0, misuse("one of "+strings.Join(units, ", ")+", as in "+example, "%q is not a unit of %s", unit, what)
}

// parseDifference reads "0.5C" or "1F" as kelvins, at least 0.
func parseDifference(text string) (float64, error) {
	kelvins := []factor{{"C", 1}, {"F", 1 / 1.8}, {"K", 1}}
	return measure(text, "a difference of temperature", "0.5C", kelvins, true)
}

// parseNumber reads a plain number, such as a pH.
func parseNumber(text string) (float64, error) {
	number, unit, err := split(text)
	if err == nil && unit != "" {
		return 0, misuse("5.8", "%q has a unit, a plain number was expected", text)
	}
	return number, err
}

// profile reads "0min:60C|12min:65C": points in order of time, straight lines
// between them. Two points at one time are a step.
func profile(parse func(string) (float64, error)) func(string) (value, error) {
	return func(text string) (value, error) {
		var out []moment
		for point := range strings.SplitSeq(text, "|") {
			at, what, ok := strings.Cut(point, ":")
			if !ok {
				return value{}, misuse("0min:60C|12min:65C", "%q is not time:value", point)
			}
			h, err := measure(withoutExponent(at), "a time", "90min", hours, true)
			if err != nil {
				return value{}, err
			}
			v, err := parse(withoutExponent(what))
			if err != nil {
				return value{}, err
			}
			if len(out) > 0 && h < out[len(out)-1].hours {
				return value{}, misuse("points in order of time", "%q comes before the point in front of it", point)
			}
			out = append(out, moment{h, v})
		}
		if len(out) < 2 {
			return value{}, misuse("0min:60C|12min:65C", "one point is no line")
		}
		return value{series: out}, nil
	}
}
