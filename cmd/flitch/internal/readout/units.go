package readout

import (
	"fmt"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process"
)

// Grams are factors to grams; the pound and the ounce are the international avoirdupois ones of
// 1959, 0.45359237 kg exactly.
var Grams = map[string]float64{"mg": 0.001, "g": 1, "kg": 1000, "lb": 453.59237, "oz": 453.59237 / 16}

// Value reads a number and brings it to the unit that process counts the placement
// in. A unit that is not the placement's own, or none, is refused: nothing is guessed.
func Value(place process.Placement, text, unit string) (float64, error) {
	v, ok := plain.Number(text)
	if !ok {
		return 0, fmt.Errorf("value %q is no number, such as 61.5", text)
	}
	if place.IsTemperature() {
		return celsius(v, unit)
	}
	switch small := strings.ToLower(unit); {
	case place == process.Weight:
		if of, known := Grams[small]; known {
			return v * of, nil
		}
		return 0, fmt.Errorf("unit %q of a weight: write g, kg, lb, oz or mg", unit)
	case place == process.Humidity:
		if small = strings.ReplaceAll(small, " ", ""); small == "%" || small == "%rh" {
			return v, nil
		}
		return 0, fmt.Errorf("unit %q of a humidity: write %%", unit)
	case place == process.Door:
		return doorState(v, unit)
	}
	return watts(v, unit)
}

func celsius(v float64, unit string) (float64, error) {
	switch strings.TrimPrefix(strings.ToUpper(unit), "°") {
	case "C":
		return v, nil
	case "F":
		return (v - 32) / 1.8, nil
	case "K":
		return v - 273.15, nil
	}
	return 0, fmt.Errorf("unit %q of a temperature: write C, F or K", unit)
}

// doorState takes 1 and 0, which have no unit.
func doorState(v float64, unit string) (float64, error) {
	if unit != "" || v != 0 && v != 1 {
		return 0, fmt.Errorf("a door of %g %q: write 1 for open or 0 for closed, and no unit", v, unit)
	}
	return v, nil
}

// watts takes power in W or kW, and 1 and 0, which have no unit, for there and not
// there.
func watts(v float64, unit string) (float64, error) {
	switch strings.ToLower(unit) {
	case "w":
		return v, nil
	case "kw":
		return v * 1000, nil
	case "":
		if v == 0 || v == 1 {
			return v, nil
		}
	}
	return 0, fmt.Errorf("a power of %g %q: write W or kW; or no unit, and 1 for there or 0 for not there", v, unit)
}
