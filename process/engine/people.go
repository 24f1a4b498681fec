package engine

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// The rows beside the alarms in which the people's side is stored. No entry of the
// catalogue has such an ID.
const (
	peopleRow = "people|"
	judgedRow = "judged|" // followed by the number of the alarm
)

// peopleState is what the house remembers of people.
type peopleState struct {
	alerts.People
	Shelved map[string]alerts.Shelf `json:"shelved,omitempty"` // by key of the alarm
}

// plan decides who hears of an event, and says so in words for the journal.
func (h *House) plan(en alerts.Entry, a *alerts.Alarm, ev alerts.Event) (hidden, who string) {
	if ev.Hidden == "" {
		ev.Hidden = h.shelvedWith(en.ID, ev.Subject).Hides(ev.At, h.policy.Location)
	}
	messages, told, later, hidden := h.people.Plan(h.policy, en, a, ev, h.near(en.ID, ev.Subject))
	h.pending.messages = append(h.pending.messages, messages...)
	h.pending.people = true
	if len(told) > 0 {
		who = "; goes to " + strings.Join(told, ", ")
	}
	if len(later) > 0 {
		who += "; waits for the summary of " + strings.Join(later, ", ")
	}
	return hidden, who
}

func (h *House) near(entry, subject string) alerts.Surroundings {
	return alerts.Surroundings{Explained: func(id string) bool { return h.board.explained(id, subject) }, Details: h.details(entry, subject), Now: h.now(entry, subject)}
}

// tickPeople lets the people's side see that time has passed.
func (h *House) tickPeople(now time.Time) {
	if h.people.Idle() {
		return
	}
	h.pending.people = true
	for _, p := range h.people.Tick(h.policy, now, h.standing) {
		h.pending.note(process.JournalLine{At: now, Batch: batchOf(p.Subject), Kind: p.Kind, By: "flitch", Text: p.Text})
		h.pending.messages = append(h.pending.messages, p.Messages...)
	}
}

// standing finds an active alarm for the people's side, which notes in it who was told.
func (h *House) standing(number int64) (alerts.Standing, bool) {
	en, a, ok := h.board.find(number)
	if !ok {
		return alerts.Standing{}, false
	}
	h.pending.alarms[alarmKey{en.ID, a.Subject}] = a
	return alerts.Standing{Entry: en, Alarm: a, Near: h.near(en.ID, a.Subject)}, true
}

// timed reports whether the people's side waits for a time.
func (h *House) timed() bool { return !h.people.Idle() || len(h.people.Shelved) > 0 }

// writePeople stores the people's side and what was judged.
func (h *House) writePeople(tx Tx) error {
	if h.pending.people {
		if err := saveRow(tx, peopleRow, h.people); err != nil {
			return err
		}
	}
	for _, j := range h.pending.judged {
		if err := saveRow(tx, judgedRow+strconv.FormatInt(j.Number, 10), j); err != nil {
			return err
		}
	}
	return nil
}

func saveRow(tx Tx, key string, value any) error {
	state, err := json.Marshal(value)
	if err != nil {
		return fmt.Errorf("engine: state of people: %w", err)
	}
	return tx.SaveAlarm(key, state)
}

// loadPeople takes up the people's side and returns the rows that are alarms.
func (h *House) loadPeople(rows map[string][]byte) (map[string][]byte, error) {
	left := make(map[string][]byte, len(rows))
	for key, state := range rows {
		switch {
		case strings.HasPrefix(key, judgedRow):
		case key == peopleRow:
			if err := json.Unmarshal(state, &h.people); err != nil {
				return nil, fmt.Errorf("engine: stored people: %w", err)
			}
		default:
			left[key] = state
		}
	}
	return left, nil
}

// Report counts the judgements in stored alarm rows: entry, then word.
func Report(rows map[string][]byte) (map[string]map[string]int, error) {
	judged, err := Judgements(rows)
	counts := map[string]map[string]int{}
	for _, j := range judged {
		if counts[j.Entry] == nil {
			counts[j.Entry] = map[string]int{}
		}
		counts[j.Entry][j.Word]++
	}
	return counts, err
}

// Judgements are the judgements in stored alarm rows, by the number of the alarm.
func Judgements(rows map[string][]byte) (map[int64]alerts.Judgement, error) {
	all := map[int64]alerts.Judgement{}
	for key, state := range rows {
		if !strings.HasPrefix(key, judgedRow) {
			continue
		}
		var j alerts.Judgement
		if err := json.Unmarshal(state, &j); err != nil {
			return nil, fmt.Errorf("engine: stored judgement %s: %w", key, err)
		}
		all[j.Number] = j
	}
	return all, nil
}
