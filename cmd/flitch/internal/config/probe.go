package config

import (
	"fmt"
	"slices"
	"strings"
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

// maxTopic is the longest topic MQTT can carry, in bytes (MQTT 3.1.1, 1.5.3).
const maxTopic = 65535

func readProbes(tables []*table, places []Place) []Probe {
	var seen names
	var probes []Probe
	sources := map[string]int{} // topic and pointer -> line
	for _, t := range tables {
		probe := readProbe(t, &seen, places)
		if probe.Topic != "" {
			onceFrom(t, probe, sources)
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
	probe.Topic = readTopic(t)
	probe.Value = t.pointer("value")
	probe.Time, probe.TimeFormat = readTime(t)
	if probe.Time != "" && probe.Time == probe.Value {
		t.problem("time", probe.Time, "is the same number as value", `time = "/time"`)
	}
	probe.Interval = t.duration("interval", defaultInterval, leastInterval, mostInterval)
	probe.Missing = t.numbers("missing")
	probe.Battery = readVital(t, "battery", batteryLows)
	probe.Signal = readVital(t, "signal", signalLows)
	switch {
	case probe.Measures == "":
		t.get("unit") // may be right or wrong: measures decides
		t.get("uncertainty")
		t.get("check_days")
	case probe.Measures.IsTemperature():
		probe.Unit = t.choice("unit", "", "C", "F", "K")
		probe.Uncertainty = t.number("uncertainty", defaultUncertainty, 0, mostUncertainty)
		probe.CheckEvery = readCheckDays(t, probe.Measures)
	default:
		t.foreign("is only for temperatures; measures = "+string(probe.Measures), "unit", "uncertainty", "check_days")
	}
	return probe
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

func readTopic(t *table) string {
	topic := t.need("topic", "larder/alder/bottle")
	switch {
	case topic == "":
	case strings.ContainsAny(topic, "+#"):
		t.problem("topic", topic, "has a wildcard (+ or #), and a probe has one topic", `topic = "larder/alder/bottle"`)
	case len(topic) > maxTopic:
		t.problem("topic", "", fmt.Sprintf("is longer than %d bytes", maxTopic), `topic = "larder/alder/bottle"`)
	default:
		return topic
	}
	return ""
}

func readTime(t *table) (pointer, format string) {
	pointer = t.pointer("time")
	format = t.choice("time_format", "rfc3339", "rfc3339", "unix", "unix-ms")
	if pointer != "" {
		return pointer, format
	}
	if t.has("time_format") && !t.has("time") {
		t.problem("time_format", format, "says how time is written, but time is not given", `time = "/time"`)
	}
	return "", ""
}

// pointer is a JSON pointer (RFC 6901); empty is the whole payload.
func (t *table) pointer(key string) string {
	text := t.text(key)
	if text == "" {
		return ""
	}
	if text[0] != '/' {
		path := strings.ReplaceAll(strings.TrimPrefix(text, "$."), ".", "/")
		t.problem(key, text, fmt.Sprintf("%q is not a JSON pointer: it starts with /", text), fmt.Sprintf("%s = %q", key, "/"+path))
		return ""
	}
	plain := strings.NewReplacer("~0", "", "~1", "").Replace(text)
	if strings.Contains(plain, "~") {
		t.problem(key, text, "has a ~ that is neither ~0 (for ~) nor ~1 (for /)", fmt.Sprintf("%s = %q", key, strings.ReplaceAll(text, "~", "~0")))
		return ""
	}
	return text
}

// onceFrom reports a number that feeds two probes: one reading would be counted
// twice, and the second probe would never be missed.
func onceFrom(t *table, probe Probe, sources map[string]int) {
	source := probe.Topic + "\x00" + probe.Value
	line, used := sources[source]
	if !used {
		sources[source] = t.line("topic")
		return
	}
	what := fmt.Sprintf("the same number already feeds the probe on line %d", line)
	t.problem("topic", probe.Topic, what, `another topic, or another value, such as value = "/temperature2"`)
}
