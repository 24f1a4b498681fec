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
	m, channels := p.letter(e, ev, s), told
	if ev.Kind != Cleared {
		channels = p.takers(m.Level)
		if others, dead := p.others(ev.Subject, m.Level); dead {
			channels = others
		}
		a.tell(channels)
	}
	if len(channels) == 0 {
		return nil, "no channel takes level " + m.Level.String()
	}
	return m.to(channels), ""
}

// whyHidden says why nobody is told of ev, or nothing.
func whyHidden(e Entry, ev Event, s Surroundings, told []string) string {
	switch {
	case ev.Kind == Acknowledged:
		return "an answer, not a question"
	case ev.Kind == Withdrawn:
		return "it goes on as if nobody had answered"
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
