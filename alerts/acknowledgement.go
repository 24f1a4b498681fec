package alerts

import (
	"slices"
	"time"
)

// LinkOf begins the signature of an answer by the link in a message, where a tap does
// not tell whose thumb it was; the name of its channel follows.
const LinkOf = "link of "

// Acknowledge notes that somebody is on it: no more repeats until the alarm
// worsens or its re-alarm time passes. Where acknowledging is the answer
// (Clear.ByAck) it also ends the alarm. An alarm that is not active, or already
// acknowledged, stays as it is.
func Acknowledge(e Entry, a *Alarm, answer Answer) []Event {
	by, at := answer.By, answer.At
	if !a.Latest.Active || a.acknowledged() {
		return nil
	}
	a.Latest.AcknowledgedAt, a.Latest.AcknowledgedBy = at, by
	a.Latest.Answers = append(slices.Clip(a.Latest.Answers), answer) // events hold the old list
	events := []Event{a.event(e, Acknowledged, at, "")}
	if e.Clear.ByAck {
		a.Condition.Answered = true
		events = a.end(e, at, "answered", events)
	}
	return events
}

// End clears an alarm by a person's word, for entries that nothing measured can
// end. It is not raised again before its condition has been normal.
func End(e Entry, a *Alarm, by, why string, at time.Time) []Event {
	if !a.Latest.Active {
		return nil
	}
	a.Condition.Answered = true
	return a.end(e, at, "ended by "+by+": "+why, nil)
}

func (a *Alarm) acknowledged() bool { return !a.Latest.AcknowledgedAt.IsZero() }

func (a *Alarm) dropAcknowledgement() {
	a.Latest.AcknowledgedAt, a.Latest.AcknowledgedBy = time.Time{}, ""
}
