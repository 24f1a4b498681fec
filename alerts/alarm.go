package alerts

import (
	"fmt"
	"time"
)

// An Alarm is all that is remembered about one entry for one subject. Its zero
// value, with Subject set by the first signal, is a normal alarm. It is stored
// as JSON after every change.
type Alarm struct {
	Subject   string     `json:"subject"`
	Trigger   int        `json:"trigger"`           // index of the trigger that counts, while active
	Latest    Occurrence `json:"latest"`            // running while Latest.Active, else the last one
	Condition Condition  `json:"condition"`         //
	Shelf     Shelf      `json:"shelf"`             //
	Asked     time.Time  `json:"asked,omitzero"`    // when people were last asked to act
	Repeats   int        `json:"repeats,omitempty"` // since it was raised, worsened or answered
	Told      []string   `json:"told,omitempty"`    // channels that were sent this occurrence

	Summed time.Duration `json:"summed_ns,omitempty"` // beyond the limit in pieces, when that raised it
}

// State draws the condition as one word.
func (a *Alarm) State() ConditionState {
	switch {
	case a.Latest.Active && !a.Condition.Inside.IsZero():
		return Clearing
	case a.Latest.Active:
		return Active
	case a.Condition.pending():
		return Pending
	}
	return Normal
}

// Step follows one signal. next gives the number of a new occurrence and is
// called only when one is raised. A value older than the last one is late data
// and changes nothing: it may never ring.
func Step(e Entry, a *Alarm, s Signal, next func() int64) []Event {
	a.Subject = s.Subject
	switch {
	case s.State == Over:
		events := a.end(e, s.At, noMore, nil)
		a.Condition.restart()
		return a.remind(e, s.At, events)
	case s.At.Before(a.Condition.Last):
		return nil
	case s.State == Unknown:
		a.Condition.Blind = true
		return a.remind(e, s.At, nil)
	}
	if e.inside(s.Value) {
		a.see(e, s.Value) // the news that it is over should tell the newest value
	}
	events := a.expire(e, s.At)
	a.Condition.take(e, s.At, s.Value)
	a.see(e, s.Value)
	a.sumUp()
	events = a.judge(e, s, next, events)
	return a.remind(e, s.At, events)
}

// Tick follows the passing of time: the off-delay, the end of a shelf, repeats
// and re-alarms. Time alone never raises; that takes a value.
func Tick(e Entry, a *Alarm, now time.Time) []Event {
	return a.remind(e, now, a.expire(e, now))
}

// expire ends an alarm whose off-delay has passed since the last value.
func (a *Alarm) expire(e Entry, now time.Time) []Event {
	if !passed(a.Condition.clearDue(e), now) {
		return nil
	}
	return a.end(e, now, backInside, nil)
}

// Deadline is when Tick will next have something to say, if no signal comes.
func Deadline(e Entry, a *Alarm) (time.Time, bool) {
	due := a.Shelf.Until
	if a.Latest.Active {
		due = earliest(due, a.Condition.clearDue(e))
		due = earliest(due, a.askDue(e))
	}
	return due, !due.IsZero()
}

// judge raises, worsens or clears after a known sample.
func (a *Alarm) judge(e Entry, s Signal, next func() int64, events []Event) []Event {
	patience := time.Duration(1)
	if s.State == Falling && !e.Triggers[0].Below {
		patience = 2 // (proposal)
	}
	trigger, summed := a.Condition.met(e, patience)
	hour := a.Condition.itsHour(e, s.At) || trigger >= 0 && e.Triggers[trigger].AtOnce
	switch {
	case !a.Latest.Active && trigger >= 0 && !a.Condition.Answered && hour:
		a.raise(e, s, trigger, summed, next())
		return append(events, a.event(e, Raised, s.At, a.reason(e)))
	case !a.Latest.Active:
		return events
	case a.louder(e, trigger) && hour:
		a.worsen(e, trigger, summed, s.At)
		return append(events, a.event(e, Worsened, s.At, a.reason(e)))
	case passed(a.Condition.clearDue(e), s.At):
		return a.end(e, s.At, backInside, events)
	}
	return events
}

const (
	backInside = "back inside"
	noMore     = "no longer applies"
)

// reason says what the trigger that counts waited for.
func (a *Alarm) reason(e Entry) string {
	switch t := e.Triggers[a.Trigger]; {
	case a.Summed > 0:
		return fmt.Sprintf("beyond its limit for %s in %s", span(a.Summed), span(t.Window))
	case t.For > 0:
		return "beyond its limit for " + span(t.For) + " or more"
	}
	return "limit reached"
}

// sumUp keeps how long the value was beyond the limit within the window of a sum that
// raised it: a longer time than at first is told, a shorter one is not.
func (a *Alarm) sumUp() {
	if a.Latest.Active && a.Summed > 0 {
		a.Summed = max(a.Summed, a.Condition.Triggers[a.Trigger].sum())
	}
}

// raise starts a new occurrence.
func (a *Alarm) raise(e Entry, s Signal, trigger int, summed bool, number int64) {
	t, held := e.Triggers[trigger], &a.Condition.Triggers[trigger]
	since := held.Since
	a.Summed = 0
	switch {
	case summed:
		since, a.Summed = held.Pieces[0].From, held.sum()
	case e.Elapsed && !e.never(s.Value):
		since = s.At.Add(-e.elapsed(s.Value))
	}
	a.Latest = Occurrence{
		Number: number, Entry: e.ID, Title: e.Title, Subject: s.Subject, Unit: e.Unit, Level: t.Level,
		Since: since, RaisedAt: s.At, Value: s.Value, Worst: a.Condition.Worst, Limit: t.Limit, Active: true,
	}
	a.Trigger, a.Asked, a.Repeats, a.Told = trigger, s.At, 0, nil
	a.Condition.Inside = time.Time{}
}

// louder reports whether trigger is worse than the one that counts now: a higher
// level, or a later trigger of the same level with its own action.
func (a *Alarm) louder(e Entry, trigger int) bool {
	if trigger < 0 {
		return false
	}
	t := e.Triggers[trigger]
	return t.Level > a.Latest.Level || trigger > a.Trigger && t.Level == a.Latest.Level && t.Action != ""
}

// worsen keeps the number and asks again: who acknowledged the milder alarm has
// not seen this one.
func (a *Alarm) worsen(e Entry, trigger int, summed bool, at time.Time) {
	if a.Summed = 0; summed {
		a.Summed = a.Condition.Triggers[trigger].sum()
	}
	a.Trigger, a.Latest.Level, a.Latest.Limit = trigger, e.Triggers[trigger].Level, e.Triggers[trigger].Limit
	a.dropAcknowledgement()
	a.Asked, a.Repeats = at, 0
}

// see keeps the latest and the worst value of a running occurrence.
func (a *Alarm) see(e Entry, v float64) {
	if a.Latest.Active {
		a.Latest.Value, a.Latest.Worst = v, e.worse(a.Latest.Worst, v)
	}
}

// end clears a running occurrence.
func (a *Alarm) end(e Entry, at time.Time, why string, events []Event) []Event {
	if !a.Latest.Active {
		return events
	}
	a.Latest.Active, a.Latest.ClearedAt = false, at
	a.Condition.settle()
	return append(events, a.event(e, Cleared, at, why))
}

// event describes a change that has just been made.
func (a *Alarm) event(e Entry, kind EventKind, at time.Time, why string) Event {
	o := a.Latest
	return Event{
		Kind: kind, Entry: e.ID, Subject: o.Subject, Number: o.Number, Level: o.Level, At: at,
		Since: o.Since, Value: o.Value, Worst: o.Worst, Limit: o.Limit, By: o.AcknowledgedBy,
		Reason: why, Action: a.action(e), Says: e.Triggers[a.Trigger].Says, Hidden: a.Shelf.Hides(at, e.Zone), Again: a.again(e), Occurrence: o,
		Summed: a.Summed, Blind: a.Condition.Blind, Window: e.Triggers[a.Trigger].Window,
	}
}

// action is what to do first, by the trigger that counts now.
func (a *Alarm) action(e Entry) string {
	if own := e.Triggers[a.Trigger].Action; own != "" {
		return own
	}
	return e.Action
}

// passed reports whether due is set and not after now.
func passed(due, now time.Time) bool { return !due.IsZero() && !now.Before(due) }

// earliest is the earlier of two times; zero means never.
func earliest(a, b time.Time) time.Time {
	if a.IsZero() || !b.IsZero() && b.Before(a) {
		return b
	}
	return a
}
