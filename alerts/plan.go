package alerts

import "slices"

// Plan turns an event into messages, one for each channel that gets it, and
// notes in a who was told. When nobody is told, hidden says why, for the journal.
//
// An event whose cause is active is not sent: one cause, one ring. It repeats,
// and the first repeat after the cause has gone is sent. A clear goes to those
// who were sent the raise, and never wakes anybody.
func Plan(p Policy, e Entry, a *Alarm, ev Event, s Surroundings) (messages []Message, hidden string) {
	told := a.Told
	if ev.Kind == Cleared {
		a.Told = nil
	}
	if hidden = whyHidden(e, ev, s, told); hidden != "" {
		return nil, hidden
	}
	level, channels := p.level(e, ev), told
	if ev.Kind == Cleared {
		level = min(level, Tell)
	} else {
		channels = p.takers(level)
	}
	if len(channels) == 0 {
		return nil, "no channel takes level " + level.String()
	}
	subject, body := p.subject(e, ev, level), p.body(e, ev, s.Details)
	for _, name := range channels {
		messages = append(messages, Message{
			Alarm: ev.Number, Kind: ev.Kind, Entry: e.ID, Level: level, Channel: name,
			Subject: subject, Body: body, Due: ev.At,
		})
	}
	if ev.Kind != Cleared {
		a.tell(channels)
	}
	return messages, ""
}

// whyHidden says why nobody is told of ev, or nothing.
func whyHidden(e Entry, ev Event, s Surroundings, told []string) string {
	switch {
	case ev.Kind == Acknowledged:
		return "an answer, not a question"
	case ev.Kind == Cleared && len(told) == 0:
		return "nobody was told of the start"
	case ev.Kind == Cleared:
		return ""
	case ev.Hidden != "":
		return ev.Hidden
	}
	for _, cause := range e.HidesBehind {
		if s.Explained != nil && s.Explained(cause) {
			return "explained by " + cause
		}
	}
	return ""
}

// tell adds to the channels that were sent this occurrence.
func (a *Alarm) tell(channels []string) {
	for _, name := range channels {
		if !slices.Contains(a.Told, name) {
			a.Told = append(a.Told, name)
		}
	}
}
