package record

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"flitch/process"
)

// A Site is how one shop wants numbers and times shown. The zero value is UTC
// and °C.
type Site struct {
	Name       string
	Zone       *time.Location
	Fahrenheit bool
	Currency   string // stands with amounts of money; empty: they stand alone
}

// MarshalJSON gives the zone by its name.
func (s Site) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Name string `json:"name"`
		Zone string `json:"zone"`
		Unit string `json:"unit"`
	}{s.Name, s.zone().String(), s.Degree()})
}

func (s Site) zone() *time.Location {
	if s.Zone == nil {
		return time.UTC
	}
	return s.Zone
}

// Local returns t in the site's zone.
func (s Site) Local(t time.Time) time.Time { return t.In(s.zone()) }

// Degree returns the unit of temperatures: "°C" or "°F".
func (s Site) Degree() string {
	if s.Fahrenheit {
		return "°F"
	}
	return "°C"
}

// Degrees converts a temperature in °C to the site's unit.
func (s Site) Degrees(c float64) float64 {
	if s.Fahrenheit {
		return c*9/5 + 32
	}
	return c
}

// FromDegrees converts a temperature in the site's unit to °C.
func (s Site) FromDegrees(v float64) float64 {
	if s.Fahrenheit {
		return (v - 32) * 5 / 9
	}
	return v
}

// Temp writes a temperature given in °C, with one decimal and the site's unit.
func (s Site) Temp(c float64) string { return s.Bare(c) + " " + s.Degree() }

// Bare is Temp without the unit.
func (s Site) Bare(c float64) string { return fixed(s.Degrees(c), 1) }

// Rate writes a rate of change given in K per hour, signed.
func (s Site) Rate(kPerHour float64) string {
	if s.Fahrenheit {
		kPerHour = kPerHour * 9 / 5
	}
	sign := "+"
	if kPerHour < 0 {
		sign = "−"
	}
	text := fixed(math.Abs(kPerHour), 1)
	if text == "0.0" {
		sign = "±"
	}
	return sign + text + " " + s.Degree() + "/h"
}

// Stamp writes a moment in full, in local time with its zone. Both nights of a
// clock change stay apart by the zone. The zero time is a dash.
func (s Site) Stamp(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return s.Local(t).Format("Mon 2 Jan 2006 15:04 MST")
}

// Short writes a moment as local day and time.
func (s Site) Short(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return s.Local(t).Format("2 Jan 15:04 MST")
}

// Value writes a number of the given placement with its unit.
func (s Site) Value(p process.Placement, v float64) string {
	if p.IsTemperature() {
		return s.Temp(v)
	}
	return strings.TrimSpace(fixed(v, 1) + " " + UnitOf(p))
}

// Quantity writes a number kept in the given unit: temperatures and differences
// of temperature in the site's unit, times the way people say them.
func (s Site) Quantity(v float64, unit string) string {
	switch unit {
	case "°C":
		return s.Temp(v)
	case "K":
		if s.Fahrenheit {
			v = v * 9 / 5
		}
		return "a difference of " + fixed(v, 1) + " " + s.Degree() // else it reads like a temperature
	case "":
		return fixed(v, 0)
	case "d":
		if v >= process.CheckFailed {
			return "failed"
		}
	case "min":
		if v >= dayMinutes { // how a forecast says "never at this temperature of the air"
			return "a day or more"
		}
	}
	return Amount(v, unit)
}

const dayMinutes = 24 * 60

// UnitOf returns the unit in which readings of a placement are kept.
func UnitOf(p process.Placement) string {
	switch {
	case p.IsTemperature():
		return "°C"
	case p == process.Humidity:
		return "%"
	case p == process.Weight:
		return "g"
	case p == process.Power:
		return "W"
	}
	return ""
}

// fixed writes v with n decimals and never as minus zero.
func fixed(v float64, n int) string {
	text := fmt.Sprintf("%.*f", n, v)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}
