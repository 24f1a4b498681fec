package app

import (
	"maps"
	"slices"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/web"
	"flitch/process/record"
	"flitch/store"
)

// reaches are the persons a channel leads to, by their initials. A phone that was added
// on the page belongs to whoever signed there.
func (a *App) reaches(lane string) (initials []string) {
	channel, phone := channelOf(lane)
	if phone > 0 {
		if p, err := a.phone(phone); err == nil && a.stranger(p.Person) == nil {
			return []string{p.Person}
		}
	}
	for _, p := range a.cfg.Persons {
		if slices.Contains(p.Channels, channel) {
			initials = append(initials, p.Initials)
		}
	}
	return initials
}

// owner is the person whose channel it is. Of a channel that several share, a tap does
// not tell whose thumb it was.
func (a *App) owner(lane string) string {
	if who := a.reaches(lane); len(who) == 1 {
		return who[0]
	}
	return ""
}

// messages are stored messages as records and lists show them.
func (a *App) messages(stored []store.MessageRecord) []record.Message {
	var out []record.Message
	reached := map[string][]string{} // by channel: each asks the list of phones
	for _, m := range stored {
		who, known := reached[m.Channel]
		if !known {
			who = a.reaches(m.Channel)
			reached[m.Channel] = who
		}
		line := record.Message{ID: m.ID, Kind: m.Kind, Channel: m.Channel, Who: who, Due: m.Due, Attempts: len(m.Attempts)}
		if n := len(m.Attempts); n > 0 {
			last := m.Attempts[n-1]
			line.At, line.Outcome, line.Receipt, line.Error = last.Ended, last.Outcome, last.Receipt, last.Error
		}
		out = append(out, line)
	}
	return out
}

// tellings says of each alarm between two numbers whom it went to, and how far it came.
func (a *App) tellings(first, last int64) (map[int64][]record.Telling, error) {
	stored, err := a.db.MessagesBetween(first, last)
	if err != nil {
		return nil, err
	}
	byAlarm := map[int64][]record.Message{}
	for i, line := range a.messages(stored) {
		byAlarm[stored[i].Alarm] = append(byAlarm[stored[i].Alarm], line)
	}
	all := make(map[int64][]record.Telling, len(byAlarm))
	for number, messages := range byAlarm {
		all[number] = record.Tellings(messages)
	}
	return all, nil
}

// tellingsOf says the same of listed alarms, the newest first: of the newest at once,
// and of old ones that stand yet one by one.
func (a *App) tellingsOf(listed []alerts.Occurrence) (map[int64][]record.Telling, error) {
	if len(listed) == 0 {
		return nil, nil
	}
	last := listed[0].Number
	first := last - int64(len(listed))
	all, err := a.tellings(first, last)
	for _, o := range listed {
		if err != nil || o.Number >= first {
			continue
		}
		var old map[int64][]record.Telling
		old, err = a.tellings(o.Number, o.Number)
		maps.Copy(all, old)
	}
	return all, err
}

// listed are occurrences as pages and lists show them: what to do, whom it went to, and
// what hides it.
func (a *App) listed(occurrences []alerts.Occurrence) ([]web.Alarm, error) {
	actions := actions(catalogue(a.cfg))
	out := make([]web.Alarm, 0, len(occurrences))
	told, err := a.tellingsOf(occurrences)
	if err != nil {
		return nil, err
	}
	for _, o := range occurrences {
		alarm := web.Alarm{Occurrence: o, LevelName: o.Level.String(), Action: actions[o.Entry], Told: told[o.Number]}
		if s := a.engine.Shelf(o.Entry, o.Subject); o.Active && !s.Until.IsZero() {
			alarm.Shelf = &s
		}
		out = append(out, alarm)
	}
	return out, nil
}

// unreached says, in a message that goes on because nobody has answered, who has not
// been reached at all: a call that no phone took is no sleeper.
func (a *App) unreached(m alerts.Message) (lines []string) {
	if m.Kind != alerts.Escalated || m.Alarm == 0 {
		return nil
	}
	told, err := a.tellings(m.Alarm, m.Alarm)
	if err != nil {
		a.log.Error("who was reached is not known", "alarm", m.Alarm, "err", err)
	}
	now := a.reaches(m.Channel)
	for _, t := range told[m.Alarm] {
		if t.State != record.Told && t.Who != m.Channel && !slices.Contains(now, t.Who) {
			lines = append(lines, t.Words(a.site().Short)+".")
		}
	}
	return lines
}
