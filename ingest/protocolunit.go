package ingest

import (
	"fmt"
	"slices"
	"strings"

	"flitch/ingest/decode"
	"flitch/process"
)

func known(p process.Placement) bool { return slices.Contains(process.Placements(), p) }

// factors are the units, in small letters, that a placement which is no temperature may
// be announced in, and what one of them is in its own: %, g, W. The pound is 0.45359237
// kg and the ounce its sixteenth by definition (international yard and pound agreement,
// 1959). Empty: none was announced, and the placement's own is meant.
func factors(p process.Placement) map[string]float64 {
	switch p {
	case process.Humidity:
		return map[string]float64{"": 1, "%": 1, "%rh": 1, "% rh": 1}
	case process.Weight:
		return map[string]float64{"": 1, "g": 1, "kg": 1000, "lb": 453.59237, "oz": 453.59237 / 16}
	case process.Power:
		return map[string]float64{"": 1, "w": 1, "kw": 1000}
	}
	return map[string]float64{"": 1}
}

// sample makes a sample of a number in an announced unit, which goes before what the
// mapping says; the two may not contradict each other, for one of them is wrong.
func (r *protocolRoute) sample(number float64, announced string, isBool bool) (decode.Sample, error) {
	p := r.probe.Placement
	s := decode.Sample{Sent: number, Value: number*r.scale + r.offset}
	switch {
	case isBool && (p == process.Door || p == process.Power):
		s.Value = number
		return s, nil
	case isBool:
		return s, &decode.Problem{Class: decode.NotNumber, Text: fmt.Sprintf("true or false, and probe %s measures %s", r.probe.Probe, p)}
	case !p.IsTemperature():
		factor, ok := factors(p)[strings.ToLower(strings.TrimSpace(announced))]
		if !ok {
			return s, wrongUnit("the unit %q is announced, and probe %s measures %s", announced, r.probe.Probe, p)
		}
		s.Value *= factor
		return s, nil
	}
	unit, err := r.unitOf(announced)
	s.Value = unit.ToCelsius(s.Value)
	return s, err
}

// unitOf is the unit of a temperature. It is never guessed.
func (r *protocolRoute) unitOf(announced string) (decode.Unit, error) {
	if strings.TrimSpace(announced) == "" {
		if r.unit == decode.AsIs {
			return r.unit, wrongUnit("no unit is announced, and none is given for probe %s: write unit = \"C\", \"F\" or \"K\"", r.probe.Probe)
		}
		return r.unit, nil
	}
	unit, ok := decode.UnitOf(announced)
	switch {
	case !ok:
		return unit, wrongUnit("the unit %q is announced, and probe %s measures a temperature", announced, r.probe.Probe)
	case r.unit != decode.AsIs && r.unit != unit:
		return unit, wrongUnit("the unit %q is announced, and unit = %q is written for probe %s: one of them is wrong", announced, string(r.unit), r.probe.Probe)
	}
	return unit, nil
}

// declared returns the number that a word of a switch stands for.
func (r *protocolRoute) declared(text string) (s decode.Sample, ok bool) {
	v, ok := r.words[text]
	return decode.Sample{Value: v, Sent: v}, ok && text != ""
}

func wrongUnit(format string, args ...any) error {
	return &decode.Problem{Class: decode.WrongUnit, Text: fmt.Sprintf(format, args...)}
}
