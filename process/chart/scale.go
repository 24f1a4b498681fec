package chart

import (
	"strconv"
	"strings"
	"time"
)

// A Scale is how the shop wants temperatures and times shown. The zero value is UTC
// and °C.
type Scale struct {
	Zone       *time.Location // nil: UTC
	Fahrenheit bool
}

func (s Scale) zone() *time.Location {
	if s.Zone == nil {
		return time.UTC
	}
	return s.Zone
}

// Degrees converts °C to the unit of the scale.
func (s Scale) Degrees(c float64) float64 {
	if s.Fahrenheit {
		return c*9/5 + 32
	}
	return c
}

// Degree is the unit: "°C" or "°F".
func (s Scale) Degree() string {
	if s.Fahrenheit {
		return "°F"
	}
	return "°C"
}

// temp writes a temperature given in °C with one decimal.
func (s Scale) temp(c float64) string { return decimal(s.Degrees(c)) + " " + s.Degree() }

func (s Scale) stamp(t time.Time) string {
	return t.In(s.zone()).Format("Mon 2 Jan 2006 15:04 MST")
}

// decimal writes one decimal, and never minus zero.
func decimal(v float64) string {
	text := strconv.FormatFloat(v, 'f', 1, 64)
	if strings.Trim(text, "-0.") == "" {
		return "0.0"
	}
	return text
}

// zoneAt is one stretch of local time.
type zoneAt struct {
	From   int64  `json:"from"`   // ms since 1970
	Offset int    `json:"offset"` // s east of UTC
	Name   string `json:"name"`   // as on a stamp: "CET"
}

// zones are the stretches of local time in a window, found to the hour.
func (s Scale) zones(from, to time.Time) []zoneAt {
	var out []zoneAt
	for t := from; !t.After(to); t = t.Add(time.Hour) {
		name, offset := t.In(s.zone()).Zone()
		if n := len(out); n == 0 || out[n-1].Offset != offset || out[n-1].Name != name {
			out = append(out, zoneAt{t.Truncate(time.Hour).UnixMilli(), offset, name})
		}
	}
	return out
}
