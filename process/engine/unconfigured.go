package engine

import (
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A configuration changes over the years: places and probes come and go while batches are open and
// alarms stand.

// endUnconfigured ends the alarms of places and probes that are no longer in the configuration, and
// of probes of batches that are closed: nothing will ever be measured there again that could end
// them.
func (h *House) endUnconfigured(now time.Time) {
	var gone []alarmKey
	for key, a := range h.board.alarms {
		if _, known := h.board.entries[key.entry]; known && a.State() != alerts.Normal && h.isUnconfigured(key.subject) {
			gone = append(gone, key)
		}
	}
	slices.SortFunc(gone, func(a, b alarmKey) int { return strings.Compare(a.String(), b.String()) })
	for _, key := range gone {
		h.pending.note(process.JournalLine{At: now, Kind: "configuration", By: "flitch", Text: key.subject + " is no longer in it, or of no open batch: what was told of it ends (" + key.entry + ")"})
		h.board.end(key, now, h.events)
	}
}

func (h *House) isUnconfigured(subject string) bool {
	if batch := batchOf(subject); batch != "" {
		return strings.HasPrefix(subject, "probe ") && h.batch(batch) == nil
	}
	for _, p := range h.places {
		if subject == p.Subject() {
			return false
		}
		if what, ok := strings.CutSuffix(subject, " of "+p.Subject()); ok {
			return !p.HasAll(what)
		}
	}
	return isOfPlace(subject)
}

// isOfPlace reports a subject that is a place, or probes of one.
func isOfPlace(subject string) bool {
	if strings.HasPrefix(subject, "probe ") || strings.HasPrefix(subject, "probes ") {
		i := strings.LastIndex(subject, " of ")
		if i < 0 {
			return false
		}
		subject = subject[i+len(" of "):]
	}
	kind, _, named := strings.Cut(subject, " ")
	return named && slices.Contains([]process.Where{process.WhereFridge, process.WhereFreezer, process.WhereSmoker, process.WhereRoom}, process.Where(kind))
}

// findUnconfigured looks at the probes of open batches that no place has any more.
func (h *House) findUnconfigured() {
	for _, b := range h.open {
		h.found = b.FindUnwatched(h.found[:0], func(probe string) bool {
			return slices.ContainsFunc(h.places, func(p *process.Place) bool { return p.Has(probe) })
		})
		h.signals()
	}
}

// recall takes over what the stored places last heard. What is known of a probe itself goes with it
// to another place, or to one that was given another name.
func (h *House) recall(stored []*process.Place) {
	slices.SortStableFunc(stored, func(a, b *process.Place) int { return b.Now.Compare(a.Now) })
	for _, p := range h.places {
		for _, s := range stored {
			if s.Name == p.Name {
				p.Recall(s)
			}
		}
		for i := range p.Probes {
			name := p.Probes[i].Probe.Probe
			if last := slices.IndexFunc(stored, func(s *process.Place) bool { return s.Has(name) }); last >= 0 && stored[last].Name != p.Name {
				p.Carry(stored[last], name)
			}
		}
	}
}
