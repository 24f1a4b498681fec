package app

import (
	"context"
	"slices"

	"flitch/cmd/flitch/internal/web"
)

// Places implements web.Reader: the places of the configuration with what the engine
// knows of them.
func (r *reader) Places(ctx context.Context) ([]web.Place, error) {
	probes, err := r.Probes(ctx)
	if err != nil {
		return nil, err
	}
	now, open := r.app.clock.Now(), r.app.engine.Batches()
	places := r.app.engine.Places()
	var out []web.Place
	for _, c := range r.app.cfg.Places {
		p := web.Place{Name: c.Name, Title: c.Title, Kind: c.Kind, Probes: []web.PlaceProbe{}}
		if p.Title == "" {
			p.Title = c.Name
		}
		for _, b := range open {
			if b.Place() == c.Name {
				p.Batches = append(p.Batches, b.ID)
			}
		}
		slices.Sort(p.Batches)
		for _, probe := range probes {
			if t := probeIn(places, probe.Probe); probe.Place == c.Name && t != nil {
				p.Probes = append(p.Probes, web.SeePlaceProbe(probe, t, now))
			}
		}
		out = append(out, p)
	}
	return out, nil
}
