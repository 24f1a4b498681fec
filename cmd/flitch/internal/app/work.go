package app

import (
	"context"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// Work implements web.Batches.
func (b bench) Work(_ context.Context, id string) (web.Work, error) {
	batch, err := b.reader.load(id)
	if err != nil {
		return web.Work{}, err
	}
	w := web.Work{Summary: summary(batch, b.app.clock.Now()), Class: batch.Plan.Class, Open: batch.Open(), Pieces: batch.Pieces, Dosed: batch.Plan.Cure.Dosed, Said: batch.Said(),
		Doses: batch.DosesInForce(), Yield: batch.Yield(), Counts: batch.Counts, Tastes: batch.Tastes, Cost: batch.CostInForce(), Stages: batch.Stages, CureRule: batch.Plan.Cure.Rule,
		TurnHours: batch.Plan.Turn.EveryHours, Packed: batch.Packed(), KeepDays: batch.Plan.Keep.Days, ColdC: batch.Plan.Cold.AboveC}
	for _, l := range batch.DoseLots() {
		w.Lots = append(w.Lots, web.DoseLot(l))
	}
	w.CureFrom, _ = batch.CureSpan()
	for _, c := range batch.Clocks(b.app.clock.Now()) {
		if c.Name == process.ClockCure {
			w.CureDays = c.Limit
		}
	}
	return w, nil
}

// Compare implements web.Batches.
func (b bench) Compare(_ context.Context, ids []string) (out []web.Compared, err error) {
	for _, id := range ids {
		batch, err := b.reader.load(id)
		if err != nil {
			return nil, err
		}
		c, err := b.compared(batch)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

func (b bench) compared(batch *process.Batch) (web.Compared, error) {
	c := web.Compared{Summary: summary(batch, b.app.clock.Now()), Pieces: batch.Pieces, Turns: len(batch.Turns), Stalled: batch.Stalled(), Yield: batch.Yield(), Tastes: batch.Tastes, Cost: batch.CostInForce()}
	for _, d := range batch.DosesInForce() {
		c.PPM, c.DoseFails = append(c.PPM, d.PPM), c.DoseFails || d.Answer() != process.Met
	}
	if from, to := batch.CureSpan(); !from.IsZero() {
		if to.IsZero() {
			to = b.app.clock.Now()
		}
		c.CureDays = max(0, to.Sub(from).Hours()/24)
	}
	c.Heat, c.HasCook = batch.HeatMarks()
	for _, clock := range doubted(batch, b.app.clock.Now(), b.app.engine.Places(), b.reader.site) {
		switch clock.Name {
		case process.ClockChillA, process.ClockChillB, process.ClockChillC:
			c.Chill = append(c.Chill, clock)
		}
	}
	list, err := b.reader.occurrences(batch)
	for _, o := range list {
		if o.Level == alerts.Ring && !o.RaisedAt.Before(batch.Started.Add(-time.Second)) {
			c.Rang++
		}
	}
	return c, err
}
