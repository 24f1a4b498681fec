package app

import (
	"context"
	"slices"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/plans"
)

// A bench answers what a batch can be begun with, and how its pieces stand.
type bench struct {
	app    *App
	reader *reader
}

// Choices implements web.Batches.
func (b bench) Choices(context.Context) (web.Choices, error) {
	c := web.Choices{Cores: coreNames(b.app.cfg), Address: b.app.cfg.Page.Link}
	for _, name := range plans.Names() {
		p, err := plans.BuiltIn(name)
		if err != nil {
			return c, err
		}
		c.Plans = append(c.Plans, p)
	}
	for _, p := range placesOf(b.app.cfg) {
		switch process.Where(p.Kind) {
		case process.WhereFridge:
			c.Fridges = append(c.Fridges, p)
		case process.WhereSmoker:
			c.Smokers = append(c.Smokers, p)
		}
	}
	return c, nil
}

// Resolve implements web.Batches.
func (b bench) Resolve(r web.NewRequest) (process.NewBatch, error) {
	batch, err := resolve(b.app.cfg, Request{Plan: r.Plan, Pieces: r.Pieces, Fridge: r.Fridge, Chill: r.Chill, Smoker: r.Smoker, Cores: r.Cores})
	if err != nil || r.Asked == nil {
		return batch, err
	}
	asked := process.CompleteAsked(batch.Plan, *r.Asked)
	batch.Asked = &asked
	return batch, nil
}

// Like implements web.Batches.
func (b bench) Like(_ context.Context, id string) (web.NewRequest, error) {
	old, err := b.reader.load(id)
	if err != nil {
		return web.NewRequest{}, err
	}
	r := web.NewRequest{Plan: old.Plan.Name, Pieces: slices.Clone(old.Pieces), Cores: map[string]string{}, Asked: askedLike(old)}
	_, after := old.Plan.AroundHeat()
	for _, t := range old.Tracks {
		place := t.Probe.Place
		switch {
		case t.Probe.Placement == process.Core && slices.Contains(coreNames(b.app.cfg), t.Probe.Probe):
			r.Cores[t.Probe.Probe] = t.Probe.Piece
		case t.Probe.Placement == process.Core || t.Probe.Placement == process.Ambient:
		case b.kind(place) == process.WhereSmoker:
			r.Smoker = place
		case b.kind(place) == process.WhereFridge && len(t.Probe.For) > 0 && slices.Equal(t.Probe.For, after):
			r.Chill = place
		case b.kind(place) == process.WhereFridge:
			r.Fridge = place
		}
	}
	return r, nil
}

// kind is what a place of the configuration is; empty when it is there no more.
func (b bench) kind(place string) process.Where {
	i := slices.IndexFunc(b.app.cfg.Places, func(p config.Place) bool { return p.Name == place })
	if i < 0 {
		return ""
	}
	return b.app.cfg.Places[i].Kind
}

// askedLike is what was asked of a batch: as it was weighed last, or as it was begun. What
// was weighed, and grams of a recipe for its own weights, stay with it.
func askedLike(b *process.Batch) *process.Dosing {
	var asked process.Dosing
	switch n := len(b.Doses); {
	case n > 0:
		asked = b.Doses[n-1].Said
	case b.Asked != nil:
		asked = *b.Asked
	default:
		return nil
	}
	asked.Portions = nil
	return &asked
}
