package engine

import (
	"fmt"
	"slices"
	"strings"

	"flitch/alerts"
	"flitch/process"
)

// checkProbe refuses a check that cannot be true, or of a probe that is not here.
func (h *House) checkProbe(c process.Command) error {
	if err := process.CheckOfProbe(c, c.Typed); err != nil {
		return err
	}
	var known []string
	for _, p := range h.places {
		if p.Has(c.Check.Probe) {
			return nil
		}
		for _, t := range p.Probes {
			known = append(known, t.Probe.Probe)
		}
	}
	return &process.Refusal{What: fmt.Sprintf("there is no probe %q", c.Check.Probe), Hint: "the probes are " + strings.Join(known, ", "), NotFound: true}
}

// takeCheck notes the check with the probe, and in the journal of each batch that the
// probe has measured since its last good check.
func (h *House) takeCheck(in process.Input) {
	c := in.Command
	if h.checkProbe(c) != nil {
		return
	}
	text := fmt.Sprintf("probe %s %s", c.Check.Probe, c.Check.Words())
	if c.Text != "" {
		text += "; " + c.Text
	}
	h.pending.note(process.JournalLine{At: c.Typed, Kind: string(c.Kind), By: c.By, Text: text})
	for _, p := range h.places {
		t := p.Probe(c.Check.Probe)
		if t == nil {
			continue
		}
		h.stepPlace(p, in)
		for _, batch := range t.Served {
			h.pending.note(process.JournalLine{At: c.Typed, Batch: batch, Kind: string(c.Kind), By: c.By, Text: text})
		}
		p.Trust(c.Check.Probe, func(batch string) bool { return h.batch(batch) != nil })
	}
}

// serve tells the places which batch their probes measure.
func (h *House) serve(in process.Input) {
	for _, p := range h.places {
		if slices.ContainsFunc(in.Command.New.Probes, func(placed process.PlacedProbe) bool { return p.Has(placed.Probe) }) {
			h.stepPlace(p, in)
		}
	}
}

// checkDetails are what a probe read, when it was last good, and which batches are in
// doubt.
func (h *House) checkDetails(subject string) []string {
	if t := h.probe(subject); t != nil {
		return h.checkLines(t)
	}
	return nil
}

// probe is the one that a subject such as "probe alder-slow of fridge alder" names.
func (h *House) probe(subject string) *process.PlaceProbe {
	name, _, _ := strings.Cut(strings.TrimPrefix(subject, "probe "), " of ")
	for _, p := range h.places {
		if t := p.Probe(name); t != nil {
			return t
		}
	}
	return nil
}

func (h *House) checkLines(t *process.PlaceProbe) (lines []string) {
	bad := t.Failed()
	if bad != nil {
		lines = append(lines, alerts.Sentence(bad.WordsIn(h.policy.Temperature, h.policy.Difference)))
	}
	good := "Last good check: none."
	if c := t.LastGood(t.Checked()); c != nil {
		good = alerts.Sentence(fmt.Sprintf("last good check: %s by %s", c.At.Format("2006-01-02"), c.By))
	}
	lines = append(lines, good)
	if bad != nil && len(t.Served) > 0 {
		lines = append(lines, "Batches since, each to be reviewed: "+strings.Join(t.Served, ", ")+".")
	}
	return lines
}
