package ingest_test

import (
	"math"
	"strings"
	"testing"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/ingest/sensor"
	"flitch/process"
)

// Raw numbers of a board become °C; what no working sensor sends is kept, marked bad,
// with the reason in words and the payload as it came.
func TestBareSensors(t *testing.T) {
	curve, err := sensor.Beta(10_000, 3950)
	if err != nil {
		t.Fatal(err)
	}
	on := func(name, pointer string, s sensor.Spec, missing ...float64) ingest.Mapping {
		return ingest.Mapping{Topic: "board", Probe: probe(name, process.Chamber), Spec: decode.Spec{Value: pointer}, Sensor: s, Missing: missing}
	}
	s := newShelf(t)
	in := start(t, s, []ingest.Mapping{
		on("ntc", "/a0", sensor.Spec{Kind: sensor.NTC, Curve: curve, Divider: sensor.Divider{SeriesOhm: 10_000, FullScale: 4095}}, 1234),
		on("pt", "/ohm", sensor.Spec{Kind: sensor.Pt100}),
		on("k", "/mv", sensor.Spec{Kind: sensor.ThermocoupleK, ColdAt: "/board"}),
		on("chip", "/lin", sensor.Spec{Kind: sensor.ThermocoupleK, Linear: true, ColdC: 25}),
	}, ingest.Options{})
	for _, payload := range []string{
		`{"a0": 748, "ohm": 138.5055, "mv": 3.09598786, "board": 25, "lin": 100.006974}`,
		`{"a0": 4095, "ohm": 0, "mv": 900, "board": 25, "lin": 2300}`,
		`{"a0": 1234, "ohm": 1e6, "mv": 3.1, "board": null, "lin": 1700}`,
		`{"a0": 0, "ohm": 270, "mv": 3.1, "board": 300, "lin": 400}`,
	} {
		in.submit(t, "board", payload, nil)
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][]string{
		"ntc":  {"63", "the wire or the plug is open", "1234 means no measurement for this probe", "a short circuit"},
		"pt":   {"100", "a short circuit", "the wire or the plug is open", "outside -30 to 350 °C for a chamber probe"},
		"k":    {"100", "the thermocouple is open", "no cold junction: ", "the cold junction says 300 °C"},
		"chip": {"100", "the thermocouple is open", "the thermocouple is open", "outside -30 to 350"},
	} {
		rows := s.Series(t, name)
		if len(rows) != 4 {
			t.Fatalf("%s: %d rows", name, len(rows))
		}
		if r := rows[0]; r.Quality != process.Good || math.Abs(r.Value-map[string]float64{"63": 63, "100": 100}[want[0]]) > 0.1 {
			t.Errorf("%s: %+v", name, r)
		}
		for i, r := range rows[1:] {
			if r.Quality != process.Bad || !strings.Contains(r.Reason, want[i+1]) || !strings.Contains(r.Raw, `"a0"`) {
				t.Errorf("%s: %+v, want %q", name, r, want[i+1])
			}
		}
	}
}

func TestBareSensorsThatAreRefused(t *testing.T) {
	for want, spoil := range map[string]func(*ingest.Mapping){
		"there is no unit":   func(m *ingest.Mapping) { m.Unit = "C" },
		"no sensor that is":  func(m *ingest.Mapping) { m.Sensor.Kind = "pt50" },
		"is a temperature's": func(m *ingest.Mapping) { m.Probe.Placement = process.Humidity },
		"start with a slash": func(m *ingest.Mapping) { m.Sensor = sensor.Spec{Kind: sensor.ThermocoupleK, ColdAt: "board"} },
	} {
		m := ingest.Mapping{Topic: "t", Probe: probe("p", process.Core), Sensor: sensor.Spec{Kind: sensor.Pt100}}
		spoil(&m)
		if _, err := ingest.New(newShelf(t), nil, []ingest.Mapping{m}, ingest.Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}
