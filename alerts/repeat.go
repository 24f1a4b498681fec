package alerts

import "time"

// askDue is when people are asked again: the repeat while nobody has
// acknowledged, the re-alarm time after somebody has. Nobody is asked while the
// value is back inside or the alarm is on the shelf.
func (a *Alarm) askDue(e Entry) time.Time {
	every, from := a.every(e), a.Asked
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
		a.Repeats = 0
		return append(events, a.ask(e, ReAlarmed, now, "acknowledged, but still standing"))
	}
	a.Repeats++
	return append(events, a.ask(e, Repeated, now, "nobody has acknowledged"))
}

// every is how long after it asked an alarm that nobody has answered asks again.
func (a *Alarm) every(e Entry) time.Duration {
	if e.ThenDaily && e.Repeat > 0 && a.Repeats > 0 {
		return 24 * time.Hour
	}
	return e.Repeat
}

// again is when the question comes next while nobody answers.
func (a *Alarm) again(e Entry) time.Time {
	if every := a.every(e); every > 0 && a.Latest.Active {
		return a.Asked.Add(every)
	}
	return time.Time{}
}

func (a *Alarm) ask(e Entry, kind EventKind, now time.Time, why string) Event {
	a.Asked = now
	return a.event(e, kind, now, why)
}
