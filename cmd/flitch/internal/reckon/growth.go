package reckon

import (
	"math"
	"strings"

	"flitch/process/growth"
)

func growthReckoning() Calculator {
	return Calculator{
		Name: "growth", Help: "How far bacteria grow at a temperature or along a profile, by a published model.",
		Example: "model=CP_PORK profile=0h:54.4C|6h:27C|14h:7C",
		Keys: append(append(heatKeys(),
			Key{Name: "model", Help: strings.Join(growth.Codes(), ", "), Read: readWord(growth.Codes()...), Needed: true}),
			conditionKeys()...),
		work: reckonGrowth,
	}
}

func reckonGrowth(g given) (Answer, error) {
	points, err := profileGiven(g, 1)
	if err != nil {
		return Answer{}, err
	}
	conditions, err := conditionsGiven(g)
	if err != nil {
		return Answer{}, err
	}
	m, err := growth.New(g.word("model"), conditions)
	if err != nil {
		return Answer{}, err
	}
	var sum growth.Sum
	outside := false
	for i, b := range points[1:] {
		sum.Add(m, points[i].value, b.value, b.hours-points[i].hours, gapGiven(g))
		outside = outside || m.Extrapolates(points[i].value) || m.Extrapolates(b.value)
	}
	a := Answer{
		Model:  m.Organism + " in " + m.Food + " (" + m.Code + "), Baranyi and Roberts 1994",
		Source: m.Source + " (" + m.Provenance + ")", Uncertainty: "not published; take it as an order of size",
	}
	if m.SpreadLog > 0 {
		a.Uncertainty = "repeated trials lie 1 log apart"
	}
	grown := sum.DeltaLog(m)
	a.add("growth", grown, "log10")
	a.add("growth without lag", sum.M/math.Ln10, "log10")
	if m.Beside.Name != "" {
		a.add("growth, lag "+m.Beside.Name, growth.DeltaLog(sum.M, m.Beside.H0, growth.Unlimited()), "log10")
	}
	a.say("level", string(m.Bands.Level(grown)))
	if g.has("temp") {
		a.add("doubling time", m.DoublingHours(points[0].value), "h")
	}
	a.mark("lag " + m.Decides.Name + ": " + m.Decides.Source + " (" + m.Decides.Provenance + ")")
	a.mark("levels: " + m.Bands.Source)
	growthNotes(&a, m, outside)
	return a, nil
}

func growthNotes(a *Answer, m *growth.Model, outside bool) {
	a.note("a condition left out is taken as the one that lets most grow")
	if m.Note != "" {
		a.note("%s", m.Note)
	}
	if outside {
		a.note("part of this lies outside %g to %g °C, where the model was made", m.FromC, m.ToC)
	}
}
