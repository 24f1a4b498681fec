package config

import (
	"strings"
	"testing"
)

// A cold junction that nobody measures is a doubt, and no reason not to start.
func TestAColdJunctionTakenForGranted(t *testing.T) {
	c, err := parse("flitch.toml", []byte(`
[site]
name = "Plover Shed"
zone = "UTC"
[broker]
mode = "embedded"
[[place]]
name = "kettle"
kind = "smoker"
fuel = "electric"
[[probe]]
name = "grate"
place = "kettle"
measures = "chamber"
topic = "kettle"
sensor = "thermocouple-k"
cold_junction_c = 30
`), nil, stubVault())
	if err != nil {
		t.Fatal(err)
	}
	if c.Doubts == nil || !strings.Contains(c.Doubts.Error(), "probe.cold_junction_c: a cold junction that is always taken") {
		t.Errorf("doubts: %v", c.Doubts)
	}
	if c.Probes[0].Sensor.ColdC != 30 || c.Probes[0].Unit != "" {
		t.Errorf("%+v", c.Probes[0])
	}
}
