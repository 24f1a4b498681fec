package process

import (
	"math"
	"slices"
	"strings"

	"flitch/process/growth"
)

// GrowthRule is what is known of the food for the estimates of growth. Zero is not
// known: then a model gives the most it can.
type GrowthRule struct {
	Species     string  `json:"species,omitempty" toml:"species"`         // "beef", "pork" or "chicken"
	NitritePPM  float64 `json:"nitrite_ppm,omitempty" toml:"nitrite_ppm"` // ingoing
	Accelerator bool    `json:"accelerator,omitempty" toml:"accelerator"` // ascorbate or erythorbate is in it
	SaltPct     float64 `json:"salt_pct,omitempty" toml:"salt_pct"`       // in the water phase, %
	PH          float64 `json:"ph,omitempty" toml:"ph"`
	Source      string  `json:"source,omitempty" toml:"source"`
}

// growthModels are the models of one plan.
type growthModels struct{ aureus, perfringens, listeria *growth.Model }

// models makes the models for what is known of the food.
func (r GrowthRule) models() (m growthModels, err error) {
	known := growth.Conditions{SaltPct: r.SaltPct, PH: r.PH}
	code := growth.PerfringensCode(r.Species, r.NitritePPM, r.Accelerator)
	for code, to := range map[string]**growth.Model{"SA_CM": &m.aureus, code: &m.perfringens, "LM_GAMMA": &m.listeria} {
		if *to, err = growth.New(code, known); err != nil {
			return m, err
		}
	}
	return m, nil
}

// unknown lists what would slow growth and is not said.
func (r GrowthRule) unknown() string {
	var out []string
	for what, v := range map[string]float64{"nitrite": r.NitritePPM, "salt in the water phase": r.SaltPct, "pH": r.PH} {
		if v == 0 {
			out = append(out, what)
		}
	}
	slices.Sort(out)
	return strings.Join(out, ", ")
}

// models are those of the batch's plan. A plan that was checked has them; one that
// was not is taken for food of which nothing is known.
func (b *Batch) models() growthModels {
	if b.grown.aureus == nil { // made once: they are wanted for every reading
		models, err := b.Plan.Growth.models()
		if err != nil {
			models, _ = GrowthRule{}.models()
		}
		b.grown = models
	}
	return b.grown
}

// GrowthSums is what may have grown in one core.
type GrowthSums struct {
	Aureus      growth.Sum `json:"aureus"`      // while it came up
	Perfringens growth.Sum `json:"perfringens"` // while it came down
}

// add counts a part of a segment at the warm end of the probe's uncertainty. Coming
// up ends when the lethality row is met.
func (g *GrowthSums) add(s span, m growthModels, uncertainty float64, done bool) {
	seg := s.shifted(uncertainty)
	switch {
	case !s.stage.Heat:
		g.Perfringens.Add(m.perfringens, seg.v1, seg.v2, s.minutes()/60, s.bridge())
	case !done:
		g.Aureus.Add(m.aureus, seg.v1, seg.v2, s.minutes()/60, s.bridge())
	}
}

// bridge is the longest time that the number packages may draw a line over: any, or
// none for a gap.
func (s segment) bridge() float64 {
	if s.gap {
		return 0
	}
	return math.Inf(1)
}

// HoldSum is what may have grown on cooked product in one cold place.
type HoldSum struct {
	Listeria growth.Sum `json:"listeria"`
	Hours    float64    `json:"hours"`
}

func (h *HoldSum) add(s span, m growthModels, uncertainty float64) {
	if s.stage.Heat || s.stage.Where != WhereFridge && s.stage.Where != WhereFreezer {
		return
	}
	h.Hours += s.minutes() / 60
	h.Listeria.Add(m.listeria, s.v1+uncertainty, s.v2+uncertainty, s.minutes()/60, s.bridge())
}
