package alerts

import (
	"fmt"
	"slices"
	"time"
)

// answeredKept bounds how many calls that were answered are remembered, to go on if the
// answer is taken back (proposal).
const answeredKept = 50

// Answer finds an answer to the newest occurrence by the ID of its command.
func (a *Alarm) Answer(id string) (Answer, bool) {
	if i := a.answer(id); i >= 0 {
		return a.Latest.Answers[i], true
	}
	return Answer{}, false
}

func (a *Alarm) answer(id string) int {
	return slices.IndexFunc(a.Latest.Answers, func(an Answer) bool { return an.ID == id && id != "" })
}

// Withdrawable says why an answer cannot be taken back, or nothing: the alarm is over, or
// asks again since.
func Withdrawable(e Entry, a *Alarm, id string) error {
	i := a.answer(id)
	switch {
	case i < 0:
		return fmt.Errorf("alarm %d has no such answer", a.Latest.Number)
	case a.Latest.Answers[i].Withdrawn != nil:
		return fmt.Errorf("alarm %d: that answer was taken back by %s", a.Latest.Number, a.Latest.Answers[i].Withdrawn.By)
	case !a.Latest.Active && !a.endedBy(e, i):
		return fmt.Errorf("alarm %d is over: there is nothing to be on", a.Latest.Number)
	case i != len(a.Latest.Answers)-1 || !a.acknowledged():
		return fmt.Errorf("alarm %d asks again since that answer: there is nothing to take back", a.Latest.Number)
	}
	return nil
}

// endedBy reports whether the answer was the end of the alarm, and what it tells of has not
// been normal since.
func (a *Alarm) endedBy(e Entry, i int) bool {
	return e.Clear.ByAck && a.Condition.Answered && a.Latest.ClearedAt.Equal(a.Latest.Answers[i].At)
}

// Withdraw takes back an answer: the alarm is unacknowledged again (ISA-18.2), and its
// repeats go on from when people were last asked, as if nobody had answered. One that the
// answer had ended stands again. An answer that is not Withdrawable stays as it is.
func Withdraw(e Entry, a *Alarm, id string, w Withdrawal) []Event {
	if Withdrawable(e, a, id) != nil {
		return nil
	}
	if !a.Latest.Active {
		a.Latest.Active, a.Latest.ClearedAt = true, time.Time{}
	}
	i := a.answer(id)
	a.Latest.Answers = slices.Clone(a.Latest.Answers) // events hold the old list
	a.Latest.Answers[i].Withdrawn = &w
	a.dropAcknowledgement()
	a.Condition.Answered = false
	why := a.Latest.Answers[i].By + " is not on it"
	if w.Why != "" {
		why += ": " + w.Why
	}
	ev := a.event(e, Withdrawn, w.At, why)
	ev.By = w.By
	return []Event{ev}
}

// settleCall ends the call about an alarm of which nobody is told. One that was answered
// is remembered, and one whose answer was taken back goes on where it was.
func (s *People) settleCall(ev Event) {
	i := slices.IndexFunc(s.Answered, func(c Call) bool { return c.Number == ev.Number })
	switch {
	case ev.Kind == Withdrawn && i >= 0:
		s.hangUp(ev.Number)
		s.Calls = append(s.Calls, s.Answered[i])
		s.Answered = slices.Delete(s.Answered, i, i+1)
		return
	case ev.Kind == Withdrawn:
		return
	case ev.Kind == Acknowledged:
		for _, c := range s.Calls {
			if c.Number == ev.Number {
				s.Answered = append(slices.DeleteFunc(s.Answered, func(c Call) bool { return c.Number == ev.Number }), c)
				s.Answered = s.Answered[max(0, len(s.Answered)-answeredKept):]
			}
		}
	}
	s.hangUp(ev.Number)
}
