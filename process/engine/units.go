package engine

import (
	"fmt"

	"flitch/process"
)

// checkUnit refuses an answer to which unit a sensor sends that nobody asked for.
func (h *House) checkUnit(c process.Command) error {
	if err := process.CheckUnit(nil, c, c.Typed); err != nil {
		return err
	}
	t := h.placed(c.Unit.Probe)
	if t == nil {
		return h.noProbe(c.Unit.Probe)
	}
	return process.CheckUnit(t, c, c.Typed)
}

// takeUnit gives the answer to the places and batches that the probe measures for.
func (h *House) takeUnit(in process.Input) {
	c := in.Command
	text := fmt.Sprintf("probe %s %s", c.Unit.Probe, c.Unit.Words())
	if c.Text != "" {
		text += "; " + c.Text
	}
	h.pending.note(process.JournalLine{At: c.Typed, Kind: string(c.Kind), By: c.By, Text: text})
	for _, p := range h.places {
		if p.Has(c.Unit.Probe) {
			h.stepPlace(p, in)
		}
	}
	for _, b := range h.open {
		if b.Uses(c.Unit.Probe) {
			h.stepBatch(b, in)
			h.pending.note(process.JournalLine{At: c.Typed, Batch: b.ID, Kind: string(c.Kind), By: c.By, Text: text})
		}
	}
}

// units are what is asked or known of the units of the probes of a batch that begins.
func (h *House) units(c process.Command) (known []process.UnitKnown) {
	for _, p := range c.New.Probes {
		t := h.placed(p.Probe)
		if t == nil || p.Placement != process.Product && p.Placement != process.Air || t.Sieve.Newest.At.IsZero() {
			continue
		}
		k := process.UnitKnown{Probe: p.Probe, Ask: t.Sieve.Unit}
		if !t.Sieve.Newest.At.After(c.At) { // a batch that began in the past has readings of its own of that time
			k.Newest = t.Sieve.Newest
		}
		known = append(known, k)
	}
	return known
}

// unitDetails are the question and how to answer it, when one is asked.
func (h *House) unitDetails(subject string) []string {
	t := h.probe(subject)
	if t == nil || !t.Sieve.Unit.Open() {
		return nil
	}
	return []string{
		fmt.Sprintf("It %s. Nothing it says counts until somebody answers: flitch probe unit %s F, or flitch probe unit %s C.", t.Sieve.Unit.WordsIn(h.policy.Temperature), t.Probe.Probe, t.Probe.Probe),
	}
}
