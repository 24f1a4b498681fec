package ingest

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"flitch/ingest/decode"
	"flitch/ingest/sensor"
	"flitch/process"
)

// A Mapping says which number on which topic is a reading of which probe. One
// topic may have several.
type Mapping struct {
	Topic string // a + stands for any one part, and then an ID has to be given

	// Protocol is Homie, Sparkplug, or empty. With one the Spec has no paths, Unit is
	// only what to assume when the device announces none, and Metric is Sparkplug's.
	Protocol string
	Metric   string

	Probe process.PlacedProbe
	decode.Spec
	Sensor  sensor.Spec // of a board that sends ohms, counts or millivolts; no Unit then
	Missing []float64   // numbers, as sent, that mean "no measurement"
	Vitals  []VitalAt   // what the sensor tells of itself in the same payload
}

// InTopic as IDAt of a mapping: the id is what stands for the + of the topic.
const InTopic = "topic"

// A route is a compiled mapping.
type route struct {
	probe   process.PlacedProbe
	field   decode.Field
	missing []float64 // as sent
	track   *track    // shared by all routes of the probe
	vitals  []vitalField
	sensor  *bare // nil: it sends a temperature
}

// compile checks m and prepares it for reading. topic is what it is read from.
func (m Mapping) compile() (r route, topic string, err error) {
	where := fmt.Sprintf("topic %q, probe %q", m.Topic, m.Probe.Probe)
	if m.Topic == "" || m.Probe.Probe == "" {
		return route{}, "", fmt.Errorf("%s: a mapping needs both", where)
	}
	if topic, err = m.readFrom(); err != nil {
		return route{}, "", fmt.Errorf("%s: %w", where, err)
	}
	if !known(m.Probe.Placement) {
		return route{}, "", fmt.Errorf("%s: placement %q is not known", where, m.Probe.Placement)
	}
	spec := m.Spec
	if spec.IDAt == InTopic {
		spec.ID, spec.IDAt = "", ""
	}
	field, err := decode.NewField(spec)
	if err != nil {
		return route{}, "", fmt.Errorf("%s: %w", where, err)
	}
	if m.Unit+m.UnitAt != "" && !m.Probe.Placement.IsTemperature() {
		return route{}, "", fmt.Errorf("%s: unit %q is a temperature's, the placement is %s: leave the unit out", where, m.Unit+m.UnitAt, m.Probe.Placement)
	}
	r = route{probe: m.Probe, field: field, missing: m.Missing}
	if r.vitals, err = compileVitals(m.Vitals); err != nil {
		return route{}, "", fmt.Errorf("%s: %w", where, err)
	}
	if m.Sensor.Converts() {
		if r.sensor, err = newBare(m); err != nil {
			return route{}, "", fmt.Errorf("%s: %w", where, err)
		}
	}
	return r, topic, nil
}

// readFrom is the topic with the id put in, if it is there that the id stands.
func (m Mapping) readFrom() (string, error) {
	free := strings.Count(m.Topic, "+")
	switch {
	case strings.Contains(m.Topic, "#"):
		return "", errors.New("the wildcard # is not read: write + for one part")
	case !partsAreWhole(m.Topic):
		return "", errors.New("a + stands for a whole part, between two slashes")
	case free > 0 && m.ID == "":
		return "", errors.New("a topic with + needs an id, or every sensor on it would feed this probe")
	case m.IDAt != InTopic:
		return m.Topic, nil
	case free != 1 || m.ID == "" || strings.ContainsAny(m.ID, "/+#"):
		return "", errors.New("an id in the topic needs one + in it, and is one part")
	}
	return strings.Replace(m.Topic, "+", m.ID, 1), nil
}

// partsAreWhole reports whether every + stands alone between slashes (MQTT 3.1.1,
// 4.7.1.3).
func partsAreWhole(topic string) bool {
	for part := range strings.SplitSeq(topic, "/") {
		if len(part) > 1 && strings.Contains(part, "+") {
			return false
		}
	}
	return true
}

// nothing returns why a number, as sent, means no measurement, or "".
func (r *route) nothing(sent float64) string {
	for _, m := range r.missing {
		if math.Abs(sent-m) <= 1e-6 { // decimals of a float; own bound
			return fmt.Sprintf("%.6g means no measurement for this probe", m)
		}
	}
	return ""
}
