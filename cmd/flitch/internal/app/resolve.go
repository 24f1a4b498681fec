package app

import (
	"fmt"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/config"
	"flitch/process"
	"flitch/process/plans"
)

// A Request is a new batch as a person asks for it: by names.
type Request struct {
	Plan   string
	Pieces []process.Piece
	Fridge string
	Chill  string // where it is chilled, if not in Fridge
	Smoker string
	Cores  map[string]string // probe: piece
}

// resolve turns names into the complete description of a batch. The error is a
// *process.Refusal.
func resolve(c *config.Config, r Request) (process.NewBatch, error) {
	plan, err := plans.BuiltIn(r.Plan)
	if err != nil {
		return process.NewBatch{}, err
	}
	batch := process.NewBatch{Plan: plan, Pieces: r.Pieces}
	for _, want := range []struct {
		name string
		kind process.Where
	}{{r.Fridge, process.WhereFridge}, {r.Chill, process.WhereFridge}, {r.Smoker, process.WhereSmoker}} {
		if err := checkPlace(c, want.name, want.kind); err != nil {
			return process.NewBatch{}, err
		}
	}
	for _, p := range c.Probes {
		if placed, ok := r.place(plan, p); ok {
			batch.Probes = append(batch.Probes, placed)
		}
	}
	cores, err := placeCores(c, r)
	batch.Probes = append(batch.Probes, cores...)
	return batch, err
}

// place says whether, and in which stages, a probe that is not in the meat speaks
// for the batch. Ambient probes always do: they explain the rest.
func (r Request) place(plan process.Plan, p config.Probe) (process.PlacedProbe, bool) {
	placed := p.Placed()
	apart := r.Chill != "" && r.Chill != r.Fridge
	switch {
	case p.Measures == process.Core:
		return placed, false
	case p.Measures == process.Ambient:
		return placed, true
	case p.Place == "":
		return placed, false
	case p.Place == r.Fridge:
		if apart {
			placed.For, _ = plan.AroundHeat()
		}
		return placed, true
	case p.Place == r.Chill:
		_, placed.For = plan.AroundHeat()
		return placed, true
	}
	return placed, p.Place == r.Smoker
}

// checkPlace refuses a place that does not exist or is of another kind. No name
// is allowed: nothing is then measured there.
func checkPlace(c *config.Config, name string, kind process.Where) error {
	if name == "" {
		return nil
	}
	var known []string
	for _, p := range c.Places {
		if p.Kind != kind {
			continue
		}
		if p.Name == name {
			return nil
		}
		known = append(known, p.Name)
	}
	hint := fmt.Sprintf("there is no %s in the configuration; leave it out or add a [[place]]", kind)
	if len(known) > 0 {
		hint = "say " + strings.Join(known, " or ")
	}
	return &process.Refusal{What: fmt.Sprintf("%q is not a %s of this house", name, kind), Hint: hint, NotFound: true}
}

// placeCores puts the named core probes into their pieces. Without names, the
// smoker's core probes go into the pieces in order.
func placeCores(c *config.Config, r Request) ([]process.PlacedProbe, error) {
	var out []process.PlacedProbe
	given := r.Cores
	if len(given) == 0 {
		given = coresInOrder(c, r)
	}
	names := make([]string, 0, len(given))
	for name := range given {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		i := slices.IndexFunc(c.Probes, func(p config.Probe) bool { return p.Name == name && p.Measures == process.Core })
		if i < 0 {
			return nil, &process.Refusal{What: fmt.Sprintf("there is no core probe %q", name), Hint: "the core probes are " + strings.Join(coreNames(c), ", "), NotFound: true}
		}
		placed := c.Probes[i].Placed()
		placed.Piece = given[name]
		out = append(out, placed)
	}
	return out, nil
}

func coresInOrder(c *config.Config, r Request) map[string]string {
	given := map[string]string{}
	for _, p := range c.Probes {
		if p.Measures == process.Core && p.Place == r.Smoker && p.Place != "" && len(given) < len(r.Pieces) {
			given[p.Name] = r.Pieces[len(given)].Name
		}
	}
	return given
}

func coreNames(c *config.Config) []string {
	var names []string
	for _, p := range c.Probes {
		if p.Measures == process.Core {
			names = append(names, p.Name)
		}
	}
	return names
}
