package ingest

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"flitch/ingest/decode"
	"flitch/process"
)

// A Mapping says which number on which topic is a reading of which probe. One
// topic may have several.
type Mapping struct {
	Topic      string // exact; no wildcards
	Probe      process.PlacedProbe
	Value      string    // JSON pointer (RFC 6901); "" is the whole payload
	Time       string    // JSON pointer; "" if the payload carries no time
	TimeFormat string    // "", "rfc3339", "unix", "unix-ms"
	Unit       string    // "C", "F", "K" or ""
	Missing    []float64 // numbers, as sent, that mean "no measurement"
	Vitals     []VitalAt // what the sensor tells of itself in the same payload
}

// A route is a compiled mapping.
type route struct {
	probe   process.PlacedProbe
	field   decode.Field
	missing []float64 // in °C, as signal.Check wants them
	track   *track    // shared by all routes of the probe
	vitals  []vitalField
}

// compile checks m and prepares it for reading.
func (m Mapping) compile() (route, error) {
	where := fmt.Sprintf("topic %q, probe %q", m.Topic, m.Probe.Probe)
	if m.Topic == "" || m.Probe.Probe == "" {
		return route{}, fmt.Errorf("%s: a mapping needs both", where)
	}
	if strings.ContainsAny(m.Topic, "#+") {
		return route{}, fmt.Errorf("%s: wildcards are not read: name each topic", where)
	}
	if !slices.Contains(process.Placements(), m.Probe.Placement) {
		return route{}, fmt.Errorf("%s: placement %q is not known", where, m.Probe.Placement)
	}
	field, err := decode.NewField(m.Value, m.Time, m.TimeFormat, m.Unit)
	if err != nil {
		return route{}, fmt.Errorf("%s: %w", where, err)
	}
	if m.Unit != "" && !m.Probe.Placement.IsTemperature() {
		return route{}, fmt.Errorf("%s: unit %q is a temperature's, the placement is %s: leave the unit out", where, m.Unit, m.Probe.Placement)
	}
	r := route{probe: m.Probe, field: field}
	if r.vitals, err = compileVitals(m.Vitals); err != nil {
		return route{}, fmt.Errorf("%s: %w", where, err)
	}
	for _, sentinel := range m.Missing {
		r.missing = append(r.missing, decode.Unit(m.Unit).ToCelsius(sentinel))
	}
	return r, nil
}

// routes groups the compiled mappings by topic, in the order given. All problems
// are reported at once.
func routes(mappings []Mapping) (map[string][]route, map[string]*track, error) {
	byTopic := map[string][]route{}
	tracks := map[string]*track{}
	var problems []error
	for _, m := range mappings {
		r, err := m.compile()
		if err != nil {
			problems = append(problems, err)
			continue
		}
		if tracks[r.probe.Probe] == nil {
			tracks[r.probe.Probe] = &track{probe: r.probe.Probe}
		}
		r.track = tracks[r.probe.Probe]
		byTopic[m.Topic] = append(byTopic[m.Topic], r)
	}
	return byTopic, tracks, errors.Join(problems...)
}
