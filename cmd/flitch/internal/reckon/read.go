package reckon

import (
	"flitch/cmd/flitch/internal/quantity"
	"strings"
)

// The readers. Each takes what a person types on one line.
var (
	readWeight      = Reader{Example: "2268g", value: numeric(quantity.ExactWeight)}
	readAmount      = Reader{Example: "56.7g", value: numeric(quantity.Amount)}
	readLength      = Reader{Example: "38mm", value: numeric(quantity.ExactLength)}
	readTemperature = Reader{Example: "4C", Degrees: Temperature, value: numeric(quantity.ExactTemperature)}
	readDifference  = Reader{Example: "0.5C", Degrees: Difference, value: numeric(quantity.Difference)}
	readTime        = Reader{Example: "90min", value: numeric(quantity.Hours)}
	readPercent     = Reader{Example: "35%", value: numeric(quantity.Part)}
	readAltitude    = Reader{Example: "500m", value: numeric(quantity.Altitude)}
	readPressure    = Reader{Example: "955hPa", value: numeric(quantity.Pressure)}
	readNumber      = Reader{Example: "5.8", value: numeric(quantity.Plain)}
	readPPM         = Reader{Example: "120ppm", value: numeric(quantity.PPM)}
	readProfile     = Reader{Example: "0min:60C|12min:65C", value: profile(quantity.ExactTemperature)}
)

func numeric(parse func(string) (float64, error)) func(string) (value, error) {
	return func(text string) (value, error) {
		number, err := parse(text)
		return value{number: number}, err
	}
}

// readWord takes one of the words.
func readWord(words ...string) Reader {
	return Reader{Example: words[0], Choices: words, value: func(text string) (value, error) {
		for _, word := range words {
			if sameWord(word, text) {
				return value{word: word}, nil
			}
		}
		return value{}, misuse(Closest(text, words), "%q is none of %s", text, strings.Join(words, ", "))
	}}
}

func sameWord(a, b string) bool {
	return strings.EqualFold(strings.ReplaceAll(a, "_", "-"), strings.ReplaceAll(b, "_", "-"))
}

// alias is a reader that knows one more word for one of its own.
func (r Reader) alias(also, word string) Reader {
	return Reader{Example: r.Example, Choices: r.Choices, value: func(text string) (value, error) {
		if sameWord(also, text) {
			return r.value(word)
		}
		return r.value(text)
	}}
}

// readShape takes the short word of tables too.
var readShape = readWord("slab", "cylinder", "sphere").alias("cyl", "cylinder")

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
			h, err := quantity.SinceStart(quantity.WithoutExponent(at))
			if err != nil {
				return value{}, err
			}
			v, err := parse(quantity.WithoutExponent(what))
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
