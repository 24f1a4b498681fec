package reckon

import (
	"fmt"
	"math"

	"flitch/process/lethality"
	"flitch/process/rules"
)

// heatKeys say what the core did: one temperature for a time, or a profile.
func heatKeys() []Key {
	return []Key{
		{Name: "temp", Help: "of the core, all the time", Read: readTemperature},
		{Name: "time", Help: "how long", Read: readTime},
		{Name: "profile", Help: "or time:temperature, straight lines between", Read: readProfile},
		{Name: "gap", Help: "longest time between two points that is a line: heat over a longer one earns nothing, growth and danger count in full", Read: readTime},
		{Name: "probe", Help: "how far the probe may be off", Read: readDifference, Taken: "0.5C", Basis: "assumption; use the residual of your calibration"},
	}
}

// profileGiven is what the core did, in hours and °C, moved by the probe's
// uncertainty to the unkind side.
func profileGiven(g given, side float64) ([]moment, error) {
	if err := g.only("temp", "profile"); err != nil {
		return nil, err
	}
	if g.has("temp") != g.has("time") {
		return nil, misuse("temp=60C time=12min, or profile=0min:60C|12min:65C", "temp and time go together, and without a profile")
	}
	points := g.series("profile")
	if g.has("temp") {
		points = []moment{{0, g.number("temp")}, {g.number("time"), g.number("temp")}}
	}
	out := make([]moment, len(points))
	for i, p := range points {
		out[i] = moment{p.hours, p.value + side*g.number("probe")}
	}
	return out, nil
}

// gapGiven is the longest time between points that is taken as measured, h; endless
// when nothing was said.
func gapGiven(g given) float64 {
	if g.has("gap") {
		return g.number("gap")
	}
	return math.Inf(1)
}

func lethalityReckoning() Calculator {
	return Calculator{
		Name: "lethality", Help: "What a heat treatment earns: F-value, log reduction, and the rows of a published table.",
		Example: "profile=0min:54C|60min:63C|64min:63C table=fsis-meat-6.5",
		Keys: append(append(heatKeys(), targetKeys()...),
			Key{Name: "table", Help: "published time-temperature table: " + rules.LethalityHint(), Read: readTable, Taken: "fsis-meat-6.5", Basis: "the meat table of the FSIS guideline at 6.5 log; choose your own"}),
		work: reckonLethality,
	}
}

var readTable = Reader{Example: "fsis-meat-6.5", Choices: rules.LethalityNames(), value: func(text string) (value, error) {
	if _, ok := rules.Lethality(text); !ok {
		return value{}, misuse(Closest(text, rules.LethalityNames()[:3])+"; tables: "+rules.LethalityHint(), "there is no table %q", text)
	}
	return value{word: text}, nil
}}

func reckonLethality(g given) (Answer, error) {
	points, err := profileGiven(g, -1)
	if err != nil {
		return Answer{}, err
	}
	target, own, err := targetGiven(g)
	if err != nil {
		return Answer{}, err
	}
	var sum lethality.Sum
	for i, b := range points[1:] {
		sum.Add(target, points[i].value, b.value, 60*(b.hours-points[i].hours), 60*gapGiven(g))
	}
	if f := target.LogReduction(sum.FMin); math.IsInf(f, 0) || math.IsNaN(f) {
		return Answer{}, misuse("cap=70C", "the credit has no end: a z of %g K and no cap", target.ZC)
	}
	a := Answer{
		Model:       "lethal rate of Bigelow, exact on straight lines; " + target.Name,
		Source:      target.Source,
		Uncertainty: "the probe's is taken off before; between your points a straight line is assumed",
	}
	a.add(fmt.Sprintf("F at %g °C", target.RefC), sum.FMin, "min")
	a.add(fmt.Sprintf("F at %g °C, lower bound", target.RefC), sum.LowerMin, "min")
	a.add("log reduction", target.LogReduction(sum.FMin), "log10")
	a.add("log reduction, lower bound", target.LogReduction(sum.LowerMin), "log10")
	if err := tableVerdict(&a, g.word("table"), points, 60*gapGiven(g)); err != nil {
		return a, err
	}
	if own {
		a.unused = []string{"target"}
		a.mark("your own target: " + bounds(target) + " of the credit")
	} else {
		a.mark("choice of this project: " + bounds(target) + " of the credit")
	}
	if sum.Weak() {
		a.note("more than half of the credit is from below %d °C, where the times have weak support", lethality.WeakC)
	}
	return a, nil
}

// tableVerdict asks each row of the table, as the authority does: all time at or
// above the row's temperature counts.
func tableVerdict(a *Answer, name string, points []moment, gapMin float64) error {
	rows, ok := rules.Lethality(name)
	if !ok || len(rows) == 0 {
		return fmt.Errorf("there is no table %q", name)
	}
	best, bestRow := 0.0, rows[0]
	longest := 0.0
	for _, row := range rows {
		var d lethality.Dwell
		for i, b := range points[1:] {
			d.Add(row.TempC, points[i].value, b.value, 60*(b.hours-points[i].hours), gapMin)
		}
		part := d.TotalMin / max(row.Minutes, 1e-9)
		if row.Minutes == 0 && d.TotalMin == 0 {
			part = 0
		}
		if part > best {
			best, bestRow, longest = part, row, d.LongestMin
		}
	}
	verdict := "not met"
	if best >= 1 {
		verdict = "met"
	}
	a.say("table "+name, verdict)
	a.add("row that comes nearest", bestRow.TempC, "°C")
	a.add("its time", bestRow.Minutes, "min")
	a.add("longest unbroken there", longest, "min")
	a.by(4, "table "+name, bestRow.Source+" ("+bestRow.Provenance+")")
	a.note("table %s: %s (%s)", name, bestRow.Source, bestRow.Provenance)
	return nil
}

func dangerZone() Calculator {
	return Calculator{
		Name: "danger-zone", Help: "Time between 40 and 140 °F, or 41 and 135 °F.",
		Example: "profile=0h:21C|2h:10C|4h:4C",
		Keys: append(heatKeys(), Key{Name: "zone", Help: "consumer (40 to 140 °F) or food-code (41 to 135 °F)", Read: readWord("consumer", "food-code"), Taken: "consumer", Basis: "the wider one, warmer side"},
			Key{Name: "lo", Help: "or your own zone: from", Read: readTemperature},
			Key{Name: "hi", Help: "and to", Read: readTemperature}),
		work: func(g given) (Answer, error) {
			points, err := profileGiven(g, 0)
			if err != nil {
				return Answer{}, err
			}
			zone := lethality.ConsumerZone()
			if g.word("zone") == "food-code" {
				zone = lethality.FoodCodeZone()
			}
			if g.has("lo") != g.has("hi") || g.number("lo") > g.number("hi") {
				return Answer{}, misuse("lo=4.4C hi=60C", "a zone of your own needs both ends, the lower one first")
			}
			if g.has("lo") {
				zone = lethality.Zone{FromC: g.number("lo"), ToC: g.number("hi"), Source: "your own zone"}
			}
			zone.FromC, zone.ToC = zone.FromC-g.number("probe"), zone.ToC+g.number("probe")
			var e lethality.Exposure
			for i, b := range points[1:] {
				e.Add(zone, points[i].value, b.value, 60*(b.hours-points[i].hours), 60*gapGiven(g))
			}
			a := Answer{Model: "time inside the zone, exact crossings of straight lines", Source: zone.Source,
				Uncertainty: "the zone is wider by the probe's uncertainty at both ends; between your points a straight line is assumed"}
			a.add("time in the zone", e.Minutes, "min")
			return a, nil
		},
	}
}
