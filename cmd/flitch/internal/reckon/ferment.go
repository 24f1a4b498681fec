package reckon

import (
	"fmt"

	"flitch/process/growth"
	"flitch/process/rules"
)

func degreeHours() Calculator {
	return Calculator{
		Name: "degree-hours", Help: "Degree-hours of a room where sausage ferments, against the limit of a rule.",
		Example: "profile=0h:24C|12h:26C rule=us",
		Keys: append(heatKeys(),
			Key{Name: "rule", Help: "us (°F) or canada (°C)", Read: readWord("us", "canada"), Taken: "us", Basis: "the rule is yours to choose"},
			Key{Name: "ph", Help: "measured at the end", Read: readNumber}),
		work: reckonDegreeHours,
	}
}

func reckonDegreeHours(g given) (Answer, error) {
	points, err := profileGiven(g, 1)
	if err != nil {
		return Answer{}, err
	}
	rule, ok := rules.DegreeHours(g.word("rule"))
	if !ok {
		return Answer{}, fmt.Errorf("there is no rule %q", g.word("rule"))
	}
	scale := func(c float64) float64 { return c }
	if rule.Unit == "F" {
		scale = func(c float64) float64 { return c*1.8 + 32 }
	}
	var d growth.DegreeHours
	for i, b := range points[1:] {
		d.Add(rule.Base, scale(points[i].value), scale(b.value), b.hours-points[i].hours, gapGiven(g))
	}
	limit := rule.Limit(d.Highest)
	a := Answer{
		Model:       fmt.Sprintf("degree-hours above %g °%s until the pH is %g, exact on straight lines", rule.Base, rule.Unit, growth.EndPH),
		Source:      limit.Source + " (" + limit.Provenance + ")",
		Uncertainty: "the probe's is added before; between your points a straight line is assumed",
	}
	a.add("degree-hours", d.Sum, "°"+rule.Unit+" h")
	a.add("limit", limit.Limit, "°"+rule.Unit+" h")
	a.add("highest", d.Highest, "°"+rule.Unit)
	a.add("hours at the highest", growth.MaxHours(limit.Limit, rule.Base, d.Highest), "h")
	a.say("verdict", fermented(g, d.Sum <= limit.Limit, &d))
	a.note("the limit depends on the highest temperature of the room; the count ends when the pH is measured at %g or below", growth.EndPH)
	return a, nil
}

// fermented is met only when the pH was measured and is down in time.
func fermented(g given, inside bool, d *growth.DegreeHours) string {
	switch {
	case !inside:
		return "not met"
	case !g.has("ph"):
		return "not measured"
	case d.PH(g.number("ph")):
		return "met"
	}
	return "not met"
}
