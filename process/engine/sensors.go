package engine

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"

	"flitch/process"
)

// Sensor stores what the device of a probe said of itself, at a time. It is an input
// like any other, so that a replay tells the same story.
func (e *Engine) Sensor(ctx context.Context, w process.SensorWord, at time.Time) error {
	return e.Do(ctx, process.Command{ID: rand.Text(), Kind: process.CommandSensor, By: "flitch", At: at, Sensor: &w})
}

func (h *House) takeSensor(in process.Input) {
	w := in.Command.Sensor
	if w == nil {
		return
	}
	for _, p := range h.places {
		if p.Has(w.Probe) {
			h.stepPlace(p, in)
		}
	}
	for _, b := range h.open {
		if b.Uses(w.Probe) {
			h.stepBatch(b, in)
		}
	}
}

// goneBefore tells a new batch which of its probes were gone when it began.
func (h *House) goneBefore(b *process.Batch) {
	for _, p := range h.places {
		for i := range p.Probes {
			if t := &p.Probes[i]; t.Absent.Lasts() {
				b.Miss(t.Probe.Probe, *t.Absent)
			}
		}
	}
}

// absenceDetails are what was heard of a device that is gone.
func (h *House) absenceDetails(subject string) []string {
	t := h.probe(subject)
	if t == nil || !t.Absent.Lasts() {
		return nil
	}
	return []string{"What was heard: " + t.Absent.Words + "."}
}

// asksDetails are the device's own words.
func (h *House) asksDetails(subject string) []string {
	if t := h.probe(subject); t != nil && t.Asks != "" {
		return []string{fmt.Sprintf("It says: %q.", t.Asks)}
	}
	return nil
}
