package engine

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// changeOf is a plan's change in the words of alerts.
func changeOf(c process.AlarmChange) alerts.Change {
	return alerts.Change{ID: c.ID, Trigger: c.Trigger, Level: c.Level, Limit: c.Limit, Clears: c.Clears,
		After: minutes(c.AfterMin), Summed: minutes(c.SummedMin), Within: minutes(c.WithinMin), ClearsAfter: minutes(c.ClearsAfterMin)}
}

func minutes(m *float64) *time.Duration {
	if m == nil {
		return nil
	}
	d := time.Duration(*m * float64(time.Minute))
	return &d
}

// checkChanges refuses a plan that changes an alarm as it cannot be.
func (h *House) checkChanges(p process.Plan) error {
	own := ownEntries{}
	for _, c := range p.Alarms {
		if err := h.board.change(own, changeOf(c)); err != nil {
			return &process.Refusal{What: fmt.Sprintf("plan %s, [[alarm]]: %v", p.Name, err), Hint: "mend the plan; flitch alarms --catalogue lists the alarms with their limits"}
		}
	}
	return nil
}

// ownEntries are the entries that something has otherwise than the catalogue, by ID.
type ownEntries map[string]alerts.Entry

// change adds a change to those before it.
func (b *board) change(own ownEntries, c alerts.Change) error {
	base, ok := own[c.ID]
	if !ok {
		base = b.entries[c.ID]
	}
	e, err := alerts.Changed([]alerts.Entry{base}, c)
	if err == nil {
		own[c.ID] = e
	}
	return err
}

// ChangePlaces takes over what the configuration changes, by subject of the
// place: before any batch begins. The error says which change cannot be.
func (h *House) ChangePlaces(changes map[string][]alerts.Change) error {
	for subject, list := range changes {
		own := ownEntries{}
		for _, c := range list {
			if err := h.board.change(own, c); err != nil {
				return fmt.Errorf("engine: alarms of %s: %w", subject, err)
			}
		}
		h.board.own[subject] = own
	}
	return nil
}

// changeBatch takes over what the places of a batch, and then its plan, change of the
// alarms about it. What an old plan asks and this catalogue does not know stays as the
// catalogue has it.
func (h *House) changeBatch(b *process.Batch) {
	own := ownEntries{}
	for _, p := range h.places {
		for id, e := range h.board.own[p.Subject()] {
			if isIn(b, p.Name) {
				own[id] = e
			}
		}
	}
	for _, c := range b.Plan.Alarms {
		_ = h.board.change(own, changeOf(c)) // a new batch was checked
	}
	if len(own) > 0 {
		h.board.own[b.Subject()] = own
	}
}

// isIn reports whether a probe of the place measures the batch.
func isIn(b *process.Batch, place string) bool {
	return slices.ContainsFunc(b.Tracks, func(t *process.Track) bool { return t.Probe.Place == place })
}

// entry is the line of an alarm, as what it is about has it.
func (b *board) entry(key alarmKey) (alerts.Entry, bool) {
	if len(b.own) > 0 {
		about := key.subject
		if i := strings.LastIndex(about, " of "); i >= 0 {
			about = about[i+len(" of "):]
		}
		if e, ok := b.own[about][key.entry]; ok {
			return e, true
		}
	}
	e, ok := b.entries[key.entry]
	return e, ok
}
