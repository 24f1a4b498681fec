package engine

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

func shelf(c process.Command) alerts.Shelf {
	return alerts.Shelf{ID: c.ID, At: c.Typed, By: c.By, Reason: c.Text, Until: c.Until, Out: c.Kind == process.CommandOut}
}

// shelve puts the alarm that was checked on the shelf, also before it ever came.
func (h *House) shelve(c process.Command) string {
	key, err := h.shelved(c)
	if err != nil {
		return err.Error()
	}
	a := h.board.alarms[key]
	if a == nil {
		a = &alerts.Alarm{Subject: key.subject}
		h.board.alarms[key] = a
	}
	s := shelf(c)
	if err := alerts.PutOnShelf(a, s, c.Typed); err != nil {
		return err.Error()
	}
	h.pending.alarms[key] = a
	if h.people.Shelved == nil {
		h.people.Shelved = map[string]alerts.Shelf{}
	}
	h.people.Shelved[key.String()] = s
	return fmt.Sprintf("%s, %s: %s until %s: %s", key.entry, key.subject, s.Word(), h.policy.Clock(c.Until, c.Typed), s.Reason)
}

// shelved is the alarm that a person means: by its number, or by its line of the
// catalogue and what it is about.
func (h *House) shelved(c process.Command) (alarmKey, error) {
	if c.Entry == "" {
		key, a := h.board.latest(c.Alarm)
		if a == nil {
			return key, &process.Refusal{What: fmt.Sprintf("there is no alarm %d, or it came again under a new number", c.Alarm),
				Hint: "list them with: flitch alarms --all", NotFound: true}
		}
		return key, nil
	}
	if _, known := h.board.entries[c.Entry]; !known {
		return alarmKey{}, &process.Refusal{What: fmt.Sprintf("there is no alarm %q in the catalogue", c.Entry),
			Hint: "one of " + strings.Join(slices.Sorted(maps.Keys(h.board.entries)), ", "), NotFound: true}
	}
	subject, ok := h.subject(c.Of)
	if !ok {
		return alarmKey{}, &process.Refusal{What: fmt.Sprintf("there is no place and no open batch %q", c.Of),
			Hint: "one of " + strings.Join(h.subjects(), ", ") + "; or what the message says it is about, as \"probe core-1 of batch OL-31-04\"", NotFound: true}
	}
	return alarmKey{c.Entry, subject}, nil
}

// Shelf is what hides an alarm from people now, on its own or with the place or batch it
// belongs to. Its zero value hides nothing.
func (e *Engine) Shelf(entry, subject string) alerts.Shelf {
	e.mu.Lock()
	defer e.mu.Unlock()
	s := e.house.people.Shelved[alarmKey{entry, subject}.String()]
	if s.Until.IsZero() {
		s = e.house.shelvedWith(entry, subject)
	}
	if !s.Until.After(e.Clock.Now()) {
		return alerts.Shelf{}
	}
	return s
}

// shelvedWith is the shelf of a line for a whole place or batch: what it has of probes,
// pieces and legs is with it.
func (h *House) shelvedWith(entry, subject string) alerts.Shelf {
	if i := strings.LastIndex(subject, " of "); i >= 0 {
		return h.people.Shelved[alarmKey{entry, subject[i+len(" of "):]}.String()]
	}
	return alerts.Shelf{}
}

// subject is what a person's word for a place or a batch goes by in alarms. One that
// is written out as in a message is taken as it is.
func (h *House) subject(of string) (string, bool) {
	for _, s := range h.subjects() {
		if _, name, _ := strings.Cut(s, " "); of != "" && (of == s || of == name || strings.HasSuffix(of, " of "+s)) {
			if strings.HasSuffix(of, " of "+s) {
				return of, true
			}
			return s, true
		}
	}
	return "", false
}

// subjects are the places and the open batches, as alarms name them.
func (h *House) subjects() (all []string) {
	for _, p := range h.places {
		all = append(all, p.Subject())
	}
	for _, b := range h.open {
		all = append(all, b.Subject())
	}
	return all
}

// endShelves journals the end of each shelf whose time has come. One of a standing
// alarm is ended by the alarm machine, which then asks again.
func (h *House) endShelves(now time.Time) {
	for _, key := range slices.Sorted(maps.Keys(h.people.Shelved)) {
		s := h.people.Shelved[key]
		if now.Before(s.Until) {
			continue
		}
		delete(h.people.Shelved, key)
		h.pending.people = true
		entry, subject, _ := strings.Cut(key, "|")
		h.pending.note(process.JournalLine{At: now, Batch: batchOf(subject), Kind: "shelf ended", By: "flitch",
			Text: fmt.Sprintf("%s, %s: no longer %s (%s: %s)", entry, subject, s.Word(), s.By, s.Reason)})
		if a := h.board.alarms[alarmKey{entry, subject}]; a != nil && !a.Latest.Active {
			a.Shelf = alerts.Shelf{}
			h.pending.alarms[alarmKey{entry, subject}] = a
		}
	}
}

// latest returns the alarm whose newest occurrence has the number, standing or over.
func (b *board) latest(number int64) (alarmKey, *alerts.Alarm) {
	for key, a := range b.alarms {
		if a.Latest.Number == number && number > 0 {
			if _, ok := b.entries[key.entry]; ok {
				return key, a
			}
		}
	}
	return alarmKey{}, nil
}
