package config

import (
	"strings"
	"testing"
)

// A cold junction that nobody measures, and a sensor said to be better than its class,
// are doubts and no reason not to start.
func TestSensorsTakenForGranted(t *testing.T) {
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
[[probe]]
name = "core-1"
place = "kettle"
measures = "core"
topic = "core"
sensor = "pt100"
class = "B"
uncertainty = 0.2
`), nil, stubVault())
	if err != nil {
		t.Fatal(err)
	}
	if c.Doubts == nil || !strings.Contains(c.Doubts.Error(), "probe.cold_junction_c: a cold junction that is always taken") {
		t.Errorf("doubts: %v", c.Doubts)
	}
	if !strings.Contains(c.Doubts.Error(), "probe.uncertainty: less than the 0.8 K that the class of the sensor allows at 100 °C; type: uncertainty = 0.8") {
		t.Errorf("doubts: %v", c.Doubts)
	}
	if c.Probes[0].Sensor.ColdC != 30 || c.Probes[0].Unit != "" {
		t.Errorf("%+v", c.Probes[0])
	}
}
