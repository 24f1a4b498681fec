package config

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"flitch/ingest/sensor"
)

// sensorKeys are the keys of each kind of sensor.
var sensorKeys = map[string][]string{
	sensor.NTC:           {"beta", "r25", "steinhart_hart", "points", "divider"},
	sensor.Pt100:         {"lead", "class"},
	sensor.Pt1000:        {"lead", "class"},
	sensor.ThermocoupleK: {"sends", "cold_junction", "cold_junction_c"},
}

// classAtC is the temperature at which the class of a platinum sensor says how
// uncertain it is, °C: above every core that is cooked to (choice of this project).
const classAtC = 100

// readSensor reads what hangs on a board that publishes raw numbers.
func readSensor(t *table) sensor.Spec {
	if !t.has("sensor") {
		t.get("sensor")
		for _, key := range t.those(foreignKeys("")) {
			t.foreign(`is for a bare sensor: say first which, sensor = "ntc", "pt100", "pt1000" or "thermocouple-k"`, key)
		}
		return sensor.Spec{}
	}
	kind := t.choice("sensor", "", sensor.Kinds()...)
	if kind == "" {
		for _, key := range t.those(foreignKeys("")) {
			t.get(key) // right or wrong: the kind decides
		}
		return sensor.Spec{}
	}
	t.foreign(fmt.Sprintf("means nothing with sensor = %q: flitch makes °C of what it sends", kind), "unit")
	t.foreign(fmt.Sprintf("is not for sensor = %q", kind), t.those(foreignKeys(kind))...)
	s := sensor.Spec{Kind: kind}
	before := len(t.doc.problems) + len(t.absent)
	switch kind {
	case sensor.NTC:
		s.Curve, s.Divider = readCurve(t), readDivider(t)
	case sensor.ThermocoupleK:
		readJunction(t, &s)
	default:
		s.LeadOhm = t.number("lead", 0, 0, 50)
	}
	if len(t.doc.problems)+len(t.absent) > before {
		return s // its numbers are not all there
	}
	if _, err := s.Conversion(); err != nil {
		t.problem("sensor", kind, err.Error(), `sensor = "ntc" with beta = 3950 and r25 = 10000`)
	}
	return s
}

// foreignKeys are the keys of every other kind, sorted.
func foreignKeys(kind string) (keys []string) {
	for _, list := range sensorKeys {
		for _, key := range list {
			if !slices.Contains(sensorKeys[kind], key) && !slices.Contains(keys, key) {
				keys = append(keys, key)
			}
		}
	}
	slices.Sort(keys)
	return keys
}

// those are the keys that are there: a list of what is known is long enough.
func (t *table) those(keys []string) []string {
	return slices.DeleteFunc(keys, func(key string) bool { return !t.has(key) })
}

// readCurve reads one of the three ways to say what a thermistor is.
func readCurve(t *table) (c sensor.SteinhartHart) {
	var said []string
	for _, key := range []string{"beta", "steinhart_hart", "points"} {
		if t.has(key) {
			said = append(said, key)
		}
	}
	beta, r25 := t.number("beta", 3950, 500, 10_000), t.number("r25", 10_000, 1, 1e7)
	laws, points := t.numbers("steinhart_hart"), t.points("points")
	switch {
	case len(said) == 0:
		t.missing("beta", "beta = 3950 and r25 = 10000, or points = [[0, 32650], [25, 10000], [70, 1752]], or steinhart_hart = [a, b, c]")
		return c
	case len(said) > 1:
		t.problem(said[1], "", "and "+said[0]+" both say what the thermistor is", "one of them")
		return c
	}
	var err error
	hint := "the numbers of its data sheet"
	switch said[0] {
	case "beta":
		c, err = sensor.Beta(r25, beta)
	case "steinhart_hart":
		if len(laws) != 3 {
			t.problem(said[0], "", fmt.Sprintf("has %d numbers, want 3", len(laws)), "steinhart_hart = [1.129e-3, 2.341e-4, 8.767e-8]")
			return c
		}
		c = sensor.SteinhartHart{A: laws[0], B: laws[1], C: laws[2]}
		err = c.Check()
	case "points":
		if len(points) != 3 {
			return c // said already
		}
		c, err = sensor.ThreePoints([3]sensor.Point(points))
	}
	if err == nil && said[0] != "beta" {
		t.foreign("goes with beta", "r25")
	}
	if err != nil {
		t.problem(said[0], "", err.Error(), hint)
	}
	return c
}

// points are three pairs of °C and Ω.
func (t *table) points(key string) (list []sensor.Point) {
	value, ok := t.get(key)
	if !ok {
		return nil
	}
	const hint = "points = [[0, 32650], [25, 10000], [70, 1752]]"
	items, _ := value.([]any)
	for _, item := range items {
		pair, _ := item.([]any)
		if len(pair) != 2 {
			break
		}
		tC, ok1 := numeric(pair[0])
		ohm, ok2 := numeric(pair[1])
		if !ok1 || !ok2 || math.IsNaN(tC+ohm) {
			break
		}
		list = append(list, sensor.Point{TempC: tC, Ohm: ohm})
	}
	if len(list) != 3 || len(items) != 3 {
		t.problem(key, shown(value), "is not three pairs of °C and Ω", hint)
		return nil
	}
	return list
}

// readDivider reads the resistor beside a thermistor; none when it sends Ω.
func readDivider(t *table) (d sensor.Divider) {
	if !t.has("divider") {
		return d
	}
	of := t.table("divider")
	d.SeriesOhm = of.number("series", 10_000, 1, 1e8)
	d.FullScale = of.number("counts", 4095, 15, 1<<32)
	d.HighSide = of.choice("ntc", "low", "low", "high") == "high"
	for _, part := range [][2]string{{"series", "10000"}, {"counts", "4095"}} {
		key, example := part[0], part[1]
		if !of.has(key) {
			of.missing(key, "divider = { series = 10000, counts = 4095, ntc = \"low\" }   "+key+" = "+example+" is one of its parts")
		}
	}
	of.finish()
	return d
}

// readJunction reads what a thermocouple sends, and where its cold end is told.
func readJunction(t *table, s *sensor.Spec) {
	s.Linear = t.choice("sends", "mV", "mV", "C") == "C"
	s.ColdAt = t.pointer("cold_junction")
	s.ColdC = t.number("cold_junction_c", 25, -40, 125)
	switch fixed := t.has("cold_junction_c"); {
	case !t.has("cold_junction") && !fixed:
		t.missing("cold_junction", `cold_junction = "/board"   where the payload tells it in °C`)
	case t.has("cold_junction") && fixed:
		t.problem("cold_junction_c", "", "and cold_junction both say how warm the cold end is", "one of them")
	case fixed:
		t.doubt("cold_junction_c", fmt.Sprint(s.ColdC), "a cold junction that is always taken to be as warm makes each kelvin it is off a kelvin of error", `cold_junction = "/board"   where the payload tells it`)
	}
}

// classUncertainty is the least uncertainty of a platinum sensor by its class, K; 0
// when none is said.
func classUncertainty(t *table, s sensor.Spec) float64 {
	if s.Kind != sensor.Pt100 && s.Kind != sensor.Pt1000 {
		return 0
	}
	if _, said := t.get("class"); !said {
		return 0
	}
	tolerance, _ := sensor.ToleranceC(strings.ToUpper(t.choice("class", "B", "A", "B")), classAtC)
	return tolerance
}
