package decode

import "fmt"

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
