package cure

import "fmt"

// The strengths that occur, as parts: from a blended home cure with half the
// nitrite (0.14 %, computed from an extension leaflet) to the strong cures (6.25 %).
// Outside of 0.1 to 10 % a percent has most likely been typed for a part or the
// other way round (proposal).
const (
	weakest   = 0.001
	strongest = 0.10
)

// Check returns an error when the parts of a curing salt cannot be those of a
// mixture: no strength, a percent for a part, parts that add up to more than all.
// There is no default strength: makers differ, and the packet decides.
func (m CuringSalt) Check() error {
	switch {
	case m.Nitrite == 0 && m.Nitrate == 0:
		return fmt.Errorf("dose: the strength of the curing salt is missing: read the percent of nitrite on the packet")
	case m.Nitrite == 0:
		return fmt.Errorf("dose: a curing salt without nitrite cannot be dosed by ppm of nitrite")
	}
	if err := part("nitrite in the curing salt", m.Nitrite); err != nil {
		return err
	}
	for what, v := range map[string]float64{"nitrate": m.Nitrate, "salt": m.Salt, "sugar": m.Sugar} {
		if v == 0 {
			continue
		}
		if err := part(what+" in the curing salt", v); err != nil {
			return err
		}
	}
	if sum := m.Nitrite + m.Nitrate + m.Salt + m.Sugar; sum > 1+1e-9 {
		return fmt.Errorf("dose: the parts of the curing salt add up to %.4g %%, more than all of it", 100*sum)
	}
	return nil
}

// CheckStrength holds a strength that no curing salt is known to have: a percent
// typed for a part.
func (m CuringSalt) CheckStrength() Check {
	c := Check{
		Name: "strength", Answer: Met, Value: 100 * m.Nitrite, Limit: 100 * strongest, Unit: "% nitrite",
		Rule: "between 0.1 and 10 %, as curing salts are", Source: "6.25, 5.88, 0.6, 0.5 and 0.14 % occur; the bounds are a proposal",
	}
	switch {
	case m.Nitrite < weakest:
		c.Answer, c.Limit = Held, 100*weakest
		c.Hint = fmt.Sprintf("if the part is %.4g, the strength is %.4g %%: read the packet again", 100*m.Nitrite, 1e4*m.Nitrite)
	case m.Nitrite > strongest:
		c.Answer, c.Hint = Held, "that is nearly pure nitrite, a poison: read the packet again"
	}
	return c
}

// WithRest returns the mixture with all that is not nitrite, nitrate or sugar
// taken as salt.
func (m CuringSalt) WithRest() CuringSalt {
	m.Salt = max(0, 1-m.Nitrite-m.Nitrate-m.Sugar)
	return m
}
