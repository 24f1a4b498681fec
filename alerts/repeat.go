package alerts

import "time"

// askDue is when people are asked again: the repeat while nobody has
// acknowledged, the re-alarm time after somebody has. Nobody is asked while the
// value is back inside or the alarm is on the shelf.
func (a *Alarm) askDue(e Entry) time.Time {
	every, from := e.Repeat, a.Asked
	if a.acknowledged() {
		every, from = e.ReAlarm, a.Latest.AcknowledgedAt
	}
	if every <= 0 || !a.Latest.Active || !a.Condition.Inside.IsZero() || !a.Shelf.Until.IsZero() {
		return time.Time{}
	}
	return from.Add(every)
}

// remind ends a shelf whose time has come and asks again when that is due. After
// a long downtime it asks once, not once for every time that was missed.
func (a *Alarm) remind(e Entry, now time.Time, events []Event) []Event {
	if passed(a.Shelf.Until, now) {
		a.Shelf = Shelf{}
		if a.Latest.Active && !a.acknowledged() && a.Asked.Before(now) {
			return append(events, a.ask(e, ReAlarmed, now, "shelf ended"))
		}
	}
	if !passed(a.askDue(e), now) {
		return events
	}
	if a.acknowledged() {
		a.dropAcknowledgement()
		return append(events, a.ask(e, ReAlarmed, now, "acknowledged, but still standing"))
	}
	return append(events, a.ask(e, Repeated, now, "nobody has acknowledged"))
}

func (a *Alarm) ask(e Entry, kind EventKind, now time.Time, why string) Event {
	a.Asked = now
	return a.event(e, kind, now, why)
}
