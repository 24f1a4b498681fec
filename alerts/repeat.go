package alerts

import "time"

// askDue is when people are asked again: the repeat while nobody has
// acknowledged, the re-alarm time after somebody has. Nobody is asked while the
// value is back inside or the alarm is on the shelf.
func (a *Alarm) askDue(e Entry) time.Time {
	switch {
	case !a.Latest.Active || !a.Condition.Inside.IsZero() || !a.Shelf.Until.IsZero():
		return time.Time{}
	case !a.acknowledged():
		return a.again(e)
	case e.ReAlarm > 0:
		return a.Latest.AcknowledgedAt.Add(e.ReAlarm)
	}
	return time.Time{}
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

// again is when an alarm that nobody has answered asks next; zero: it does not.
func (a *Alarm) again(e Entry) time.Time {
	switch {
	case e.Repeat <= 0 || !a.Latest.Active:
		return time.Time{}
	case !e.ThenDaily || a.Repeats == 0:
		return a.Asked.Add(e.Repeat)
	case e.Hour > 0:
		return e.lastHour(a.Asked.Add(25 * time.Hour)) // the longest day has 25
	}
	return a.Asked.Add(24 * time.Hour)
}

func (a *Alarm) ask(e Entry, kind EventKind, now time.Time, why string) Event {
	a.Asked = now
	return a.event(e, kind, now, why)
}
