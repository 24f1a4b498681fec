package reckon

import (
	"math"

	"flitch/process/cure"
	"flitch/process/heat"
	"flitch/process/rules"
)

// A Profile is the cure inside the piece of a cure-time: what there is to draw of it.
type Profile struct {
	ThicknessMM float64
	SkinOn      bool
	Through     float64 // part of equilibrium that counts as through
	Curves      []ProfileCurve
}

// A ProfileCurve is one moment of it, in even steps from face to face, as parts of
// equilibrium. Low and High are the 80 % interval of the diffusivity.
type ProfileCurve struct {
	Days           float64
	Finish         bool // the deepest point is through, by the model
	Mid, Low, High []float64
}

// profilePoints is odd, so that one point is in the middle.
const profilePoints = 41

// CureProfile is the profile that a cure-time of these pairs speaks of: after the days it
// has lain, or after those of the rule; and when the model has it through. ok is false
// where it has no answer, or where nothing moves.
func CureProfile(typed []Pair) (out Profile, ok bool) {
	g, err := cureTime().read(typed)
	if err != nil {
		return out, false
	}
	piece, err := pieceGiven(g)
	if err != nil {
		return out, false
	}
	rule, err := thumbOf(g.word("rule"))
	if err != nil || rule.Grain == cure.PerPound && !g.has("weight") {
		return out, false
	}
	temp, fraction := g.number("temp"), g.number("fraction")
	c := piece.Compare(rule, fraction, temp)
	if math.IsInf(c.ModelDays, 0) || math.IsNaN(c.ModelDays) {
		return out, false
	}
	days := c.RuleDays
	if g.has("days") {
		days = g.number("days") / ofDay
	}
	path := cure.Path(piece.Cut.Shape, piece.ThicknessM, piece.SkinOn)
	out = Profile{ThicknessMM: piece.ThicknessM / mm, SkinOn: piece.SkinOn, Through: fraction}
	for _, at := range []ProfileCurve{{Days: days}, {Days: c.ModelDays, Finish: true}} {
		tau := cure.Tau(temp, temp, at.Days*ofDay, path)
		at.Mid, at.Low, at.High = piece.Cut.Across(tau, piece.SkinOn, profilePoints)
		out.Curves = append(out.Curves, at)
	}
	return out, true
}

// A Course is a core on its way down and the limits it is held against: what there is to
// draw of a chill. Hours count from now.
type Course struct {
	Hours, CoreC    []float64
	Legs            []CourseLeg
	ToC             float64 // the limit that is forecast
	At, Early, Late float64 // h; infinite: never
}

// A CourseLeg is one leg, in the order of the option: from its start to ToC by its limit. FromC does not count with
// AtOnce. End is infinite where it is never met.
type CourseLeg struct {
	FromC, ToC        float64
	AtOnce            bool
	Start, Limit, End float64 // h
}

// coursePoints is how many points the line of a core has.
const coursePoints = 200

// ChillCourse is the course that a chill of these pairs speaks of. ok is false without
// an answer, and where no time limit was named: there would be no line to hold it against.
func ChillCourse(typed []Pair) (out Course, ok bool) {
	g, err := chillReckoning().read(typed)
	if err != nil {
		return out, false
	}
	c, err := coolingGiven(g)
	if err != nil {
		return out, false
	}
	out.ToC, out.At, out.Early, out.Late = g.number("to"), math.Inf(1), math.Inf(1), math.Inf(1)
	if x, passes := c.Crossing(out.ToC); passes {
		out.At = x.Hours
		out.Early, out.Late = x.Interval()
	}
	out.legs(c, g)
	if len(out.Legs) == 0 {
		return out, false
	}
	last := 0.0
	for _, leg := range out.Legs {
		last = max(last, leg.Limit)
	}
	if !math.IsInf(out.At, 0) {
		last = max(last, min(out.At, 2*last))
	}
	for i := range coursePoints {
		h := last * float64(i) / (coursePoints - 1)
		out.Hours = append(out.Hours, h)
		out.CoreC = append(out.CoreC, c.AirC+(c.NowC-c.AirC)*math.Exp(-h/c.TauH))
	}
	return out, true
}

// legs are those of the option, or the one that the time left makes.
func (out *Course) legs(c heat.Cooling, g given) {
	if g.has("left") {
		out.Legs = append(out.Legs, CourseLeg{ToC: out.ToC, AtOnce: true, Limit: g.number("left"), End: out.At})
	}
	if !g.has("option") {
		return
	}
	option, _ := rules.ChillOption(g.word("option")) // the reader takes only known ones
	for _, l := range option.Legs {
		leg := CourseLeg{FromC: l.FromC, ToC: l.ToC, AtOnce: l.FromStart, End: math.Inf(1)}
		if !l.FromStart {
			x, passes := c.Crossing(l.FromC)
			if !passes || c.NowC < l.FromC-roundedK {
				continue // it never begins, or began before: when, is not known here
			}
			leg.Start = x.Hours
		}
		if x, passes := c.Crossing(l.ToC); passes {
			leg.End = x.Hours
		}
		leg.Limit = leg.Start + l.MaxHours
		out.Legs = append(out.Legs, leg)
	}
}
