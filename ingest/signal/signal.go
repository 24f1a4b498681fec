// Package signal says whether a number that came from a probe can be a
// measurement at all: not a code for "no sensor", and within what the place it
// measures can be.
//
// It is pure and knows nothing of the rest of flitch. A value that fails is kept
// and marked; it never raises an alarm and never clears one.
package signal

import (
	"fmt"
	"math"
)

// bounds is an inclusive range.
type bounds struct {
	lo, hi float64
	unit   string
}

// rangeOf gives the range by placement. Core -30..130, chamber -30..350 and
// fridge -40..60 °C: a table of defaults for gross range tests in the manner of
// real-time quality control of ocean data; the numbers are our proposal. Wet bulb
// -30..110 °C: cannot pass the boiling point of water; proposal. Humidity and
// door by definition. Weight and power have none.
func rangeOf(placement string) (bounds, bool) {
	switch placement {
	case "core":
		return bounds{-30, 130, "°C"}, true
	case "chamber":
		return bounds{-30, 350, "°C"}, true
	case "product", "air", "ambient":
		return bounds{-40, 60, "°C"}, true
	case "wet-bulb":
		return bounds{-30, 110, "°C"}, true
	case "humidity":
		return bounds{0, 100, "%"}, true
	case "door":
		return bounds{0, 1, ""}, true
	}
	return bounds{}, false
}

// cold lists the placements where 85.0 °C cannot be true. 85 °C (185 °F) is an
// ordinary smoker setting, and a core may pass through it.
func cold(placement string) bool {
	return placement == "product" || placement == "air" || placement == "ambient"
}

// thermal lists the placements measured in °C.
func thermal(placement string) bool {
	switch placement {
	case "core", "chamber", "wet-bulb":
		return true
	}
	return cold(placement)
}

// near is how close a value has to be to a sentinel, in K: sentinels are exact,
// but a conversion from °F leaves a rounding in the last digits.
const near = 1e-6

// code is a number that means something else than a temperature.
type code struct {
	value    float64
	means    string
	coldOnly bool
}

// codes returns the sentinels of common hardware. -127 and 85: disconnected and
// power-up values of one-wire digital thermometers (85 °C is the power-up value in
// their data sheet; -127 is the constant of the usual driver library). ±327.67:
// full scale of a 16 bit value in hundredths. 999.9: common practice, no source.
func codes() [5]code {
	return [...]code{
		{-127, "one-wire sensor not connected", false},
		{85, "one-wire sensor has just started", true},
		{327.67, "full scale, no sensor", false},
		{-327.67, "full scale, no sensor", false},
		{999.9, "no sensor", false},
	}
}

// Check judges one value of one placement ("core", "chamber", "product", "air",
// "ambient", "wet-bulb" in °C; "humidity" in %; "door" 0 or 1; others unlimited).
// missing lists further numbers, in the same unit as value, that this probe sends
// when it has nothing to say. ok is false when the value is no measurement, and
// reason then says why in words.
//
// Order: not a number, the probe's own sentinels, the common ones, the range.
func Check(value float64, placement string, missing ...float64) (reason string, ok bool) {
	fault, reason := Judge(value, placement, missing...)
	return reason, fault == 0
}

// Judge is Check, and names the fault: Missing, Sentinel, Range, or none.
func Judge(value float64, placement string, missing ...float64) (Fault, string) {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return Missing, "not a number"
	}
	for _, m := range missing {
		if math.Abs(value-m) <= near {
			return Sentinel, fmt.Sprintf("%.6g means no measurement for this probe", m)
		}
	}
	if thermal(placement) {
		for _, c := range codes() {
			if math.Abs(value-c.value) <= near && (!c.coldOnly || cold(placement)) {
				return Sentinel, fmt.Sprintf("%g °C: %s", c.value, c.means)
			}
		}
	}
	if b, limited := rangeOf(placement); limited && (value < b.lo || value > b.hi) {
		return Range, fmt.Sprintf("%.6g is outside %g to %g %s for a %s probe", value, b.lo, b.hi, b.unit, placement)
	}
	return 0, ""
}
