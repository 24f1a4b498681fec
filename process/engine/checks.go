package engine

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// checkProbe refuses a check that cannot be true, or of a probe that is not here.
func (h *House) checkProbe(c process.Command) error {
	if err := process.CheckOfProbe(c, c.Typed); err != nil {
		return err
	}
	t := h.placed(c.Check.Probe)
	if t == nil {
		return h.noProbe(c.Check.Probe)
	}
	return checkable(t, c)
}

// noProbe is the answer to a name that no probe has.
func (h *House) noProbe(name string) error {
	var known []string
	for _, p := range h.places {
		for _, t := range p.Probes {
			known = append(known, t.Probe.Probe)
		}
	}
	return &process.Refusal{What: fmt.Sprintf("there is no probe %q", name), Hint: "the probes are " + strings.Join(known, ", "), NotFound: true}
}

// checkable refuses what cannot be held into ice, and a correction in front of what is
// in the log already: the checks after it were read with another.
func checkable(t *process.PlaceProbe, c process.Command) error {
	switch newest := t.Checked(); {
	case !t.Probe.Placement.IsTemperature():
		return &process.Refusal{What: fmt.Sprintf("probe %s measures %s and is not held into ice", c.Check.Probe, t.Probe.Placement), Hint: "flitch probe list shows the others"}
	case c.Check.Correct && newest.After(c.At):
		return &process.Refusal{What: fmt.Sprintf("probe %s was checked after that, at %s: it cannot be corrected in front of it", c.Check.Probe, newest.Format(time.RFC3339)),
			Hint: "check it once more, now"}
	}
	return nil
}

// Complete is a command that was checked, with what only the house knows filled in, so
// that the log holds it whole and reads the same in another order.
func (h *House) Complete(c process.Command) process.Command {
	switch {
	case c.Kind == process.CommandStruck:
		if _, ok := h.back(c.Strikes); ok {
			c.Batch = "" // an answer or a shelf is the house's
		}
	case c.Kind == process.CommandChecked && c.Check != nil:
		c.Batch = "" // a check is the house's
		if t := h.placed(c.Check.Probe); t != nil {
			said := t.Judge(*c.Check, c.At)
			c.Check = &said
		}
	case c.Kind == process.CommandUnit && c.Unit != nil:
		c.Batch = ""
		if t := h.placed(c.Unit.Probe); t != nil {
			c = process.CompleteUnit(t, c)
		}
	case c.Kind == process.CommandNew && c.New != nil:
		fresh := *c.New
		fresh.Units = h.units(c)
		fresh.Probes = slices.Clone(fresh.Probes)
		for i := range fresh.Probes {
			fresh.Probes[i].Checks = nil
			if t := h.placed(fresh.Probes[i].Probe); t != nil {
				fresh.Probes[i].Checks = t.ChecksSince(c.At)
			}
		}
		c.New = &fresh
	}
	b := h.batch(c.Batch)
	if b == nil {
		b = h.closed[c.Batch]
	}
	return process.Complete(b, c)
}

// placed is a probe as its place knows it; nil: none is named so.
func (h *House) placed(name string) *process.PlaceProbe {
	for _, p := range h.places {
		if t := p.Probe(name); t != nil {
			return t
		}
	}
	return nil
}

// takeCheck notes the check with the probe, with each open batch it measures, and in the
// journal of each batch that it has measured since its last good check.
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
		for _, b := range h.open {
			if b.Uses(c.Check.Probe) {
				h.stepBatch(b, in)
			}
		}
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
	return h.placed(name)
}

// blindDetails say of a probe that is not heard that it is out of use.
func (h *House) blindDetails(subject string) []string {
	t := h.probe(subject)
	if t == nil || t.Failed() == nil {
		return nil
	}
	bad := t.Failed()
	return []string{fmt.Sprintf("Not measured: the probe failed its check on %s and is out of use. Put another in its place, or check it again.", bad.At.Format("2006-01-02"))}
}

func (h *House) checkLines(t *process.PlaceProbe) (lines []string) {
	bad := t.Failed()
	if bad != nil {
		lines = append(lines, alerts.Sentence(bad.WordsIn(h.policy.Temperature, h.policy.Difference)), "What it watches is not measured until it passes.")
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

// pairReads are what two probes that drift apart read.
func (h *House) pairReads(p *process.Place, subject string) string {
	var parts []string
	for _, name := range pairOf(subject) {
		parts = append(parts, h.toldIn(p, name, h.placed(name)))
	}
	return joined(parts...)
}

// pairOf are the two that a subject such as "probes top and bottom of fridge alder" names.
func pairOf(subject string) []string {
	names, _, _ := strings.Cut(strings.TrimPrefix(subject, "probes "), " of ")
	return strings.Split(names, " and ")
}

// pairDetails are the last good checks of two probes that drift apart.
func (h *House) pairDetails(subject string) (lines []string) {
	for _, name := range pairOf(subject) {
		if t := h.placed(name); t != nil {
			lines = append(lines, name+": "+strings.Join(h.checkLines(t), " "))
		}
	}
	return lines
}
