package process

import (
	"fmt"
	"time"
)

// The things that a sensor tells of itself.
const (
	VitalBattery = "battery"
	VitalSignal  = "signal"
)

// A Vital is what a sensor told of its battery or its radio: the middle value of a day,
// because cold lowers a battery for hours and a closed door weakens the radio.
type Vital struct {
	Probe string  `json:"probe"`
	Kind  string  `json:"kind"`  // VitalBattery or VitalSignal
	Value float64 `json:"value"` // in Unit
	Low   float64 `json:"low"`   // at or below it is low, in Unit
	Unit  string  `json:"unit"`  // "%", "V" or "dBm"
}

// Words is the value against its limit.
func (v Vital) Words() string {
	return fmt.Sprintf("%s %.4g %s, limit %.4g %s", v.Kind, v.Value, v.Unit, v.Low, v.Unit)
}

// stepOf is the smallest change of a unit that says something (proposal): of the
// measures below, so that one deadband fits all.
func stepOf(unit string) float64 {
	if unit == "V" {
		return 0.01
	}
	return 1
}

// margin is by how many steps the value is over its limit.
func (v Vital) margin() float64 { return (v.Value - v.Low) / stepOf(v.Unit) }

// A KnownVital is the newest of its kind.
type KnownVital struct {
	Vital
	At time.Time `json:"at"`
}

// tell keeps what a sensor told of itself.
func (t *PlaceProbe) tell(v Vital, at time.Time) {
	for i := range t.Vitals {
		if t.Vitals[i].Kind == v.Kind {
			t.Vitals[i] = KnownVital{v, at}
			return
		}
	}
	t.Vitals = append(t.Vitals, KnownVital{v, at})
}

// Vital is the newest of a kind. Nil: the sensor has told none.
func (t *PlaceProbe) Vital(kind string) *KnownVital {
	for i := range t.Vitals {
		if t.Vitals[i].Kind == kind {
			return &t.Vitals[i]
		}
	}
	return nil
}

// findVital reports by how much a battery or a signal is over its limit. It is told once
// a day, when it comes in.
func (p *Place) findVital(v Vital, at time.Time, found []Finding) []Finding {
	m := MeasureBattery
	if v.Kind == VitalSignal {
		m = MeasureSignal
	}
	return append(found, Finding{Measure: m, Subject: "probe " + v.Probe + " of " + p.Subject(), At: at, Value: v.margin()})
}
