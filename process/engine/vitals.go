package engine

import (
	"context"
	"crypto/rand"

	"flitch/process"
)

// Vital stores what a sensor told of its battery or its signal. It is an input like any
// other, so that a replay tells the same story.
func (e *Engine) Vital(ctx context.Context, v process.Vital) error {
	return e.Do(ctx, process.Command{ID: rand.Text(), Kind: process.CommandVital, By: "flitch", Vital: &v})
}

func (h *House) takeVital(in process.Input) {
	for _, p := range h.places {
		if v := in.Command.Vital; v != nil && p.Has(v.Probe) {
			h.stepPlace(p, in)
		}
	}
}
