package rules

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// A Chill is a published way to cool cooked product. All of its legs and the total
// have to be kept.
type Chill struct {
	ID            string
	Edition       string // rule set and year
	AppliesTo     string // product, in words
	Legs          []Leg
	TotalMaxHours float64
	MinNitritePPM float64 // ingoing NaNO2 that the option asks for; 0 is none
	Conditions    string  // what else it asks for, in words; not computed
	Source        string
	Provenance    string // "seen" or "memory"
}

// A Leg is a stretch of cooling with its own limit. The legs of one option may
// begin at the same temperature (Food Code: 57 to 21 °C, and 57 to 5 °C).
type Leg struct {
	FromC     float64 // 0 when FromStart
	FromStart bool    // counted from the end of cooking or preparation, whatever the temperature
	ToC       float64
	MaxHours  float64
}

//go:embed chill.csv
var chillTable string

// chills reads chill.csv once; nobody changes what it returns.
var chills = sync.OnceValues(func() ([]Chill, error) {
	lines, err := records(chillTable)
	if err != nil {
		return nil, err
	}
	var out []Chill
	for _, line := range lines {
		c, err := chill(line)
		if err != nil {
			return nil, fmt.Errorf("rules: chill option %s: %w", line["id"], err)
		}
		out = append(out, c)
	}
	return out, nil
})

func chill(line map[string]string) (Chill, error) {
	legs, err := legsOf(line["legs"])
	if err != nil {
		return Chill{}, err
	}
	total, err := strconv.ParseFloat(line["total_max_h"], 64)
	if err != nil {
		return Chill{}, err
	}
	nitrite, err := strconv.ParseFloat(line["min_nitrite_ppm"], 64)
	if err != nil {
		return Chill{}, err
	}
	return Chill{
		ID: line["id"], Edition: line["edition"], AppliesTo: line["applies_to"],
		Legs: legs, TotalMaxHours: total, MinNitritePPM: nitrite,
		Conditions: line["conditions"], Source: line["source"], Provenance: line["provenance"],
	}, nil
}

// legsOf reads "130>80:1.5|80>40:5": °F > °F : hours; "start" for no temperature.
func legsOf(text string) ([]Leg, error) {
	var legs []Leg
	for part := range strings.SplitSeq(text, "|") {
		leg, err := legOf(part)
		if err != nil {
			return nil, fmt.Errorf("leg %q: %w", part, err)
		}
		legs = append(legs, leg)
	}
	return legs, nil
}

func legOf(part string) (Leg, error) {
	from, rest, ok1 := strings.Cut(part, ">")
	to, hours, ok2 := strings.Cut(rest, ":")
	if !ok1 || !ok2 {
		return Leg{}, fmt.Errorf("want from>to:hours")
	}
	leg := Leg{FromStart: from == "start"}
	if !leg.FromStart {
		f, err := strconv.ParseFloat(from, 64)
		if err != nil {
			return Leg{}, err
		}
		leg.FromC = celsius(f)
	}
	f, err := strconv.ParseFloat(to, 64)
	if err != nil {
		return Leg{}, err
	}
	leg.ToC = celsius(f)
	leg.MaxHours, err = strconv.ParseFloat(hours, 64)
	return leg, err
}

// ChillOption returns a stabilisation option. ok is false for an unknown id;
// ChillNames lists them. The caller owns the legs.
func ChillOption(id string) (c Chill, ok bool) {
	all, err := chills()
	if err != nil {
		return Chill{}, false
	}
	for _, c := range all {
		if c.ID == id {
			c.Legs = slices.Clone(c.Legs)
			return c, true
		}
	}
	return Chill{}, false
}

// ChillNames returns the ids that ChillOption knows, in the order of the table.
func ChillNames() []string {
	all, err := chills()
	if err != nil {
		return nil
	}
	names := make([]string, 0, len(all))
	for _, c := range all {
		names = append(names, c.ID)
	}
	return names
}

// Names returns every name in the package, for the hint of an error.
func Names() []string { return append(LethalityNames(), ChillNames()...) }
