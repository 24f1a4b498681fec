package record

import (
	"time"

	"flitch/alerts"
)

// How far a message came, in the words of pages, lists and records. Nobody is told
// before the other side has taken it.
const (
	Told       = "told"
	BeingSent  = "being sent"
	NotReached = "not reached"
)

// Told says in one word how the telling ended, or that it goes on.
func (m Message) Told() string {
	switch m.Outcome {
	case alerts.Delivered:
		return Told
	case alerts.Failed:
		return NotReached
	}
	return BeingSent
}

// A Telling is what became of telling one person of an alarm.
type Telling struct {
	Who   string    `json:"who"`   // initials; of a channel that is nobody's its name
	State string    `json:"state"` // told, being sent or not reached
	At    time.Time `json:"at,omitzero"`
	Why   string    `json:"why,omitempty"` // not told, or not yet: what the other side said
}

// Tellings says of everybody whom an alarm went to how far that came, in the order they
// were called. Who was reached by one way is told, since the first time.
func Tellings(messages []Message) (all []Telling) {
	place := map[string]int{}
	for _, m := range messages {
		if m.Kind == alerts.Cleared {
			continue
		}
		who := m.Who
		if len(who) == 0 {
			who = []string{m.Channel}
		}
		for _, q := range who {
			next := Telling{Who: q, State: m.Told(), Why: m.Error}
			if next.State == Told {
				next.At, next.Why = m.At, ""
			}
			i, known := place[q]
			if !known {
				place[q] = len(all)
				all = append(all, next)
			} else if all[i].State != Told { // the newest try, or the first that got through
				all[i] = next
			}
		}
	}
	return all
}

// Words is a telling in one line; clock writes its time.
func (t Telling) Words(clock func(time.Time) string) string {
	text := t.Who + " " + t.State
	if t.State == Told {
		return text + " at " + clock(t.At)
	}
	if t.Why != "" {
		text += ": " + t.Why
	}
	return text
}
