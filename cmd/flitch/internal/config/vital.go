package config

import (
	"fmt"
	"maps"
	"slices"
)

// When a battery or a signal is low, by its unit, if the file does not say (proposals).
// What is low in volts depends on the cell: there is no usual value.
var (
	batteryLows = map[string]float64{"%": 20, "V": 0}
	signalLows  = map[string]float64{"%": 20, "dBm": -85}
)

// readVital reads key, key_unit and key_low.
func readVital(t *table, key string, lows map[string]float64) Vital {
	at := t.pointer(key)
	if at == "" {
		for _, more := range []string{key + "_unit", key + "_low"} {
			if t.has(more) && !t.has(key) {
				t.problem(more, "", fmt.Sprintf("says how %s is told, but %s is not given", key, key), fmt.Sprintf("%s = \"/%s\"", key, key))
			}
			t.get(more)
		}
		return Vital{}
	}
	return vitalAt(t, key, at, lows)
}

// vitalAt reads the unit and the limit of what is told at a place.
func vitalAt(t *table, key, at string, lows map[string]float64) Vital {
	v := Vital{Pointer: at}
	v.Unit = t.choice(key+"_unit", "%", slices.Sorted(maps.Keys(lows))...)
	least, most := 0.0, 100.0
	if v.Unit == "dBm" {
		least, most = -130, 0
	}
	v.Low = t.number(key+"_low", lows[v.Unit], least, most)
	if v.Unit == "V" && !t.has(key+"_low") {
		t.missing(key+"_low", key+"_low = 2.4")
	}
	return v
}
