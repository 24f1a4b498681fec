package config

import (
	"fmt"
	"slices"
	"time"

	"flitch/process"
)

// Bounds of a probe. The defaults and bounds are proposals: an interval of a day
// is the slowest that still is a log, and a probe that may be 10 K off cannot
// tell cooked from raw.
const (
	defaultInterval    = time.Minute
	leastInterval      = 100 * time.Millisecond
	mostInterval       = 24 * time.Hour
	defaultUncertainty = 0.5 // K
	mostUncertainty    = 10  // K
	defaultCheckDays   = 30  // between two checks in ice, of what judges a product: a month
	mostCheckDays      = 400 // a year and some
)

func readProbes(tables []*table, places []Place) []Probe {
	var seen names
	var probes []Probe
	var sources sources
	spoken := map[string]bool{} // devices of a protocol
	for _, t := range tables {
		probe := readProbe(t, &seen, places)
		if probe.Protocol == "" {
			probe.Battery = readVital(t, "battery", batteryLows)
			probe.Signal = readVital(t, "signal", signalLows)
		} else {
			standardVitals(t, &probe, !spoken[probe.device()])
			spoken[probe.device()] = true
		}
		if probe.Topic != "" {
			sources.take(t, probe.Payload)
		}
		t.finish()
		probes = append(probes, probe)
	}
	return probes
}

func readProbe(t *table, seen *names, places []Place) Probe {
	probe := Probe{Name: seen.take(t, "core-1")}
	probe.Measures = readMeasures(t)
	probe.Place = readPlaceOf(t, probe.Measures, places)
	if probe.ReadOut = readOut(t); !probe.ReadOut {
		probe.Payload = readSource(t)
	}
	probe.Interval = t.duration("interval", defaultInterval, leastInterval, mostInterval)
	probe.Missing = t.numbers("missing")
	probe.Words = readWords(t, probe.Measures)
	switch {
	case probe.Measures == "":
		t.get("unit") // may be right or wrong: measures decides
		t.get("unit_at")
		t.get("uncertainty")
		t.get("check_days")
		readSensor(t)
		classUncertainty(t, probe.Sensor)
	case probe.Measures.IsTemperature() && probe.Protocol != "" && t.has("sensor"):
		t.foreign("is for a board that sends ohms, counts or millivolts; a device of a protocol sends degrees", append(t.those(foreignKeys("")), "sensor")...)
		for _, key := range []string{"unit", "uncertainty", "check_days"} {
			t.get(key) // right or wrong: without the sensor they are looked at
		}
	case probe.Measures.IsTemperature():
		probe.Sensor = readSensor(t)
		switch {
		case probe.ReadOut:
			probe.Unit = "C"
		case t.has("sensor"):
		case probe.Protocol == "":
			probe.Unit, probe.UnitAt = readUnit(t)
		case t.has("unit"):
			probe.Unit = t.choice("unit", "", "C", "F", "K")
		}
		class := classUncertainty(t, probe.Sensor)
		probe.Uncertainty = t.number("uncertainty", max(defaultUncertainty, class), 0, mostUncertainty)
		if probe.Uncertainty < class {
			t.doubt("uncertainty", fmt.Sprint(probe.Uncertainty), fmt.Sprintf("less than the %g K that the class of the sensor allows at %d °C", class, classAtC), fmt.Sprintf("uncertainty = %g", class))
		}
		probe.CheckEvery = readCheckDays(t, probe.Measures)
	default:
		t.foreign("is only for temperatures; measures = "+string(probe.Measures), append(t.those(foreignKeys("")), "unit", "unit_at", "uncertainty", "check_days", "sensor")...)
	}
	return probe
}

// readWords are the words of a switch. Of anything else a word is no measurement.
func readWords(t *table, measures process.Placement) map[string]float64 {
	switch measures {
	case process.Door, process.Power:
		return t.words("words")
	case "":
		t.get("words")
	default:
		t.foreign("is only for a door or power; measures = "+string(measures), "words")
	}
	return nil
}

// readCheckDays is how often the probe is held into ice; 0 is never. Cores and product
// probes judge a product, and are asked for once a month when nothing is said.
func readCheckDays(t *table, measures process.Placement) time.Duration {
	days := 0.0
	if measures == process.Core || measures == process.Product {
		days = defaultCheckDays
	}
	return time.Duration(t.number("check_days", days, 0, mostCheckDays) * 24 * float64(time.Hour))
}

func readMeasures(t *table) process.Placement {
	var words []string
	for _, placement := range process.Placements() {
		words = append(words, string(placement))
	}
	return process.Placement(t.choice("measures", "", words...))
}

// readPlaceOf checks that the place exists and can have such a probe: the alarms
// of a fridge look at its product probe, those of a smoker at its chamber.
func readPlaceOf(t *table, measures process.Placement, places []Place) string {
	name := t.need("place", "old-kettle")
	if name == "" {
		return ""
	}
	at := slices.IndexFunc(places, func(p Place) bool { return p.Name == name })
	if at < 0 {
		t.problem("place", name, fmt.Sprintf("no place is named %q", name), hintPlace(name, places))
		return name
	}
	smoker := places[at].Kind == process.WhereSmoker
	switch {
	case measures == process.Chamber && !smoker:
		t.problem("measures", string(measures), fmt.Sprintf("chamber is the air of a smoker, and %s is a %s", name, places[at].Kind), `measures = "air"`)
	case measures == process.Product && smoker:
		t.problem("measures", string(measures), fmt.Sprintf("product is the slow probe of a cold place, and %s is a smoker", name), `measures = "core" or "chamber"`)
	}
	return name
}

func hintPlace(name string, places []Place) string {
	var words []string
	for _, place := range places {
		if place.Name != "" && !slices.Contains(words, place.Name) {
			words = append(words, place.Name)
		}
	}
	if len(words) == 0 {
		return fmt.Sprintf("[[place]] with name = %q", name)
	}
	if near := nearest(name, words); near != "" {
		return fmt.Sprintf("place = %q", near)
	}
	return quoted("place", words)
}
