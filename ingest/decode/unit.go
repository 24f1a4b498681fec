package decode

import (
	"fmt"
	"strings"
)

// Unit is the unit a temperature is sent in. Empty and C are degrees Celsius, or
// whatever the placement is measured in when it is not a temperature.
type Unit string

// The units.
const (
	AsIs       Unit = ""
	Celsius    Unit = "C"
	Fahrenheit Unit = "F"
	Kelvin     Unit = "K"
)

// ParseUnit accepts "", "C", "F" and "K".
func ParseUnit(s string) (Unit, error) {
	switch u := Unit(s); u {
	case AsIs, Celsius, Fahrenheit, Kelvin:
		return u, nil
	}
	return AsIs, fmt.Errorf("unit %q is not known: write C, F or K", s)
}

// UnitOf reads a unit as devices write it: C, °F, degC, Kelvin, in capitals or not.
// ok is false for everything else.
func UnitOf(text string) (u Unit, ok bool) {
	word := strings.ToLower(strings.TrimSpace(text))
	for _, sign := range []string{"°", "º", "degrees", "deg"} { // º is not the sign, and often typed for it
		if rest, found := strings.CutPrefix(word, sign); found {
			word = strings.TrimSpace(rest)
			break
		}
	}
	switch word {
	case "c", "celsius", "℃":
		return Celsius, true
	case "f", "fahrenheit", "℉":
		return Fahrenheit, true
	case "k", "kelvin":
		return Kelvin, true
	}
	return AsIs, false
}

// unitOf is UnitOf with the words of a problem.
func unitOf(text, where string) (Unit, error) {
	if u, ok := UnitOf(text); ok {
		return u, nil
	}
	if text = strings.TrimSpace(text); text == "" {
		return AsIs, problem(NoValue, where+" has no unit")
	}
	return AsIs, problem(NoValue, fmt.Sprintf("%s has the unit %s, which is not C, F or K", where, quoted(text)))
}

// unitAt finds the unit that the payload names.
func (d *Document) unitAt(p *pointer) (Unit, error) {
	root, err := d.json()
	if err != nil {
		return AsIs, err
	}
	v, err := p.find(root, thePayload)
	if err != nil {
		return AsIs, err
	}
	text, _ := plainText(v)
	return unitOf(text, quoted(p.text))
}

// ToCelsius converts v. 32 °F is 0 °C and 0 °C is 273.15 K by definition (SI
// brochure, 9th edition, 2.3.1 for the kelvin).
func (u Unit) ToCelsius(v float64) float64 {
	switch u {
	case Fahrenheit:
		return (v - 32) * 5 / 9
	case Kelvin:
		return v - 273.15
	}
	return v
}
