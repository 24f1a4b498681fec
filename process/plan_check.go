package process

import (
	"fmt"
	"math"
	"slices"
)

// Problems lists what makes a plan unusable, in the order of its text.
func (p Plan) Problems() []string {
	var out []string
	say := func(bad bool, format string, args ...any) {
		if bad {
			out = append(out, fmt.Sprintf(format, args...))
		}
	}
	say(p.Name == "", "name is missing")
	say(p.Class != NotFullyCooked && p.Class != FullyCooked, "class %q: say %q or %q", p.Class, NotFullyCooked, FullyCooked)
	say(len(p.Stages) == 0, "no [[stage]]")
	say(p.Class == FullyCooked && p.Lethality.Table == "", "a fully cooked product needs [lethality] table")
	say(p.Cure.Days+p.Cure.DaysPerInch < 0, "cure time is negative")
	say(p.Cure.Source == "" && p.Cure.Days+p.Cure.DaysPerInch > 0, "[cure] has no source")
	say(p.Cure.Water < 0 || p.Cure.Water >= 1 || p.Cure.Purge < 0 || p.Cure.Water > 0 && p.Cure.Purge >= p.Cure.Water,
		"[cure] water %g, purge %g: parts of the green weight, and less purge than water", p.Cure.Water, p.Cure.Purge)
	say(p.Cure.Shape != "" && p.Cure.Shape != "slab" && p.Cure.Shape != "cylinder" && p.Cure.Shape != "sphere", "[cure] shape %q: say slab, cylinder or sphere", p.Cure.Shape)
	say(!slices.Contains([]string{"", "dry", "comminuted", "pumped", "picked up", "equilibrium"}, p.Cure.Method) || !slices.Contains([]string{"", "bacon", "meat"}, p.Cure.Product),
		"[cure] method %q, product %q: say dry, comminuted, pumped, picked up or equilibrium, and bacon or meat", p.Cure.Method, p.Cure.Product)
	say(p.Cure.PH != 0 && !(p.Cure.PH >= 3 && p.Cure.PH <= 9) || !(p.Cure.SaltPct >= 0 && p.Cure.SaltPct < 100) || !(p.Cure.NitritePPM >= 0 && p.Cure.NitritePPM < 10000),
		"[cure] ph %g, salt_pct %g, nitrite_ppm %g: say what was put on, of the green weight, and the pH of the meat, 5.8", p.Cure.PH, p.Cure.SaltPct, p.Cure.NitritePPM)
	if _, err := p.Growth.models(); err != nil {
		say(true, "[growth] %v", err)
	}
	say(!slices.Contains([]string{"", "beef", "pork", "chicken"}, p.Growth.Species) || !(p.Growth.NitritePPM >= 0),
		"[growth] species %q, nitrite_ppm %g: say beef, pork or chicken, and ingoing nitrite from 0", p.Growth.Species, p.Growth.NitritePPM)
	for _, name := range p.Ferment.Stages {
		say(p.index(name) < 0, "[ferment] stages: the plan has no stage %q", name)
	}
	for _, name := range p.Drying.Stages {
		say(p.index(name) < 0, "[drying] stages: the plan has no stage %q", name)
	}
	say(!(p.Drying.Loss >= 0 && p.Drying.Loss < 1) || !(p.Drying.Limit >= 0 && p.Drying.Limit < 1) || p.Drying.Limit > 0 && p.Drying.Loss >= p.Drying.Limit,
		"[drying] loss %g, limit %g: parts of the green weight, and less than is lost at the very end", p.Drying.Loss, p.Drying.Limit)
	say(!(p.Drying.Protein >= 0 && p.Drying.Protein < 1), "[drying] protein %g: a part of the green weight", p.Drying.Protein)
	say(p.Drying.RHHigh != 0 && !(p.Drying.RHLow >= 0 && p.Drying.RHLow < p.Drying.RHHigh && p.Drying.RHHigh <= 100), "[drying] rh_low %g, rh_high %g: say a band, 70 and 80", p.Drying.RHLow, p.Drying.RHHigh)
	say(p.Drying.Loss > 0 && (p.Drying.Source == "" || len(p.Drying.Stages) == 0), "[drying] needs stages and a source")
	say(p.Ferment.Limit != "" && (p.Ferment.Source == "" || len(p.Ferment.Stages) == 0), "[ferment] needs stages and a source")
	say(!(p.Keep.Days >= 0) || p.Keep.Days > 0 && p.Keep.Source == "", "[keep] days %g: say how long, and where that comes from", p.Keep.Days)
	say(p.Humidity.Option != "" && p.Humidity.Source == "", "[humidity] has no source")
	say(p.Growth != (GrowthRule{}) && p.Growth.Source == "", "[growth] has no source")
	say(!(math.Abs(p.Cold.AboveC) <= 100), "[cold] above_c %g: say a temperature, 4.4", p.Cold.AboveC)
	for _, limit := range []float64{p.Cold.LimitMinutes, p.ComeUp.LimitHours, p.Turn.EveryHours} {
		say(!(limit >= 0) || math.IsInf(limit, 1), "a limit is negative, or no number: nothing could pass it")
	}
	say(p.cooks() && p.Chill.Option == "", "a plan with a core target needs [chill] option")
	for _, c := range p.Alarms {
		out = append(out, c.problems()...)
	}
	seen := map[StageName]bool{}
	for i, s := range p.Stages {
		say(!knownStage(s.Name), "stage %d: %q is not a stage", i+1, s.Name)
		say(seen[s.Name], "stage %s is there twice", s.Name)
		say(s.Hours < 0 || s.SetC < 0 || s.CoreC < 0, "stage %s: a number is negative", s.Name)
		say(s.Hours == 0 && s.CoreC == 0 && !s.Button, "stage %s: nothing ends it: give hours, core_c or button", s.Name)
		say(s.Source == "", "stage %s has no source", s.Name)
		say(!knownWhere(s.Where), "stage %s: where is %q: say fridge, smoker, freezer or room", s.Name, s.Where)
		seen[s.Name] = true
	}
	return out
}

func knownStage(name StageName) bool {
	switch name {
	case StageReceive, StageCure, StageRinse, StageEqualise, StageDry, StageColdSmoke, StageSmoke,
		StageCook, StageRest, StageChill, StagePack, StageStore:
		return true
	}
	return false
}

func knownWhere(w Where) bool {
	return w == WhereFridge || w == WhereSmoker || w == WhereFreezer || w == WhereRoom
}

// cooks reports whether any stage of the plan heats to a core temperature: what
// was heated has to be chilled by a rule.
func (p Plan) cooks() bool {
	for _, s := range p.Stages {
		if s.Heat && s.CoreC > 0 {
			return true
		}
	}
	return false
}
