package outbox

import (
	"errors"
	"fmt"
	"time"

	"flitch/alerts"
)

// judge turns what Send returned into a settlement.
func (l *lane) judge(q alerts.QueuedMessage, receipt string, err error, at time.Time) alerts.Settlement {
	s := alerts.Settlement{Message: q.ID, Outcome: alerts.Delivered, At: at, Receipt: receipt}
	if err == nil {
		return s
	}
	refusal := &alerts.SendError{Retry: true, Text: err.Error()}
	errors.As(err, &refusal)
	s.Error = refusal.Text
	switch {
	case !refusal.Retry:
		s.Outcome = alerts.Failed
	case l.underWay(q.Due, at) >= l.Backoff.GiveUp && q.Attempts+1 >= fewestAttempts:
		s.Outcome = alerts.Failed
		s.Error = fmt.Sprintf("given up after %s: %s", l.Backoff.GiveUp, s.Error)
	default:
		s.Outcome = alerts.RetryAt
		s.NextAt = at.Add(l.Backoff.wait(q.Attempts+1, refusal.After, l.random))
		if refusal.Unknown {
			s.Receipt = alerts.MayHaveCome
		}
		if refusal.After > 0 {
			l.held = s.NextAt
		}
	}
	return s
}

// An ending is how an attempt ended, on its way into the store.
type ending struct {
	alerts.Settlement
	failure  *Failure // what is told of it; nil: nothing
	attempts int      // made, and their begin is not known to the store
}

// settle stores the end of an attempt. If the store refuses, the end is kept and
// stored later; until then a message that was delivered, or failed for good, is not sent again,
// and a ring that is to be tried again is.
func (l *lane) settle(e ending) {
	if e.Outcome == alerts.RetryAt && e.failure == nil {
		e.failure = l.unsettled[e.Message].failure // it was told, and what goes another way is not stored yet
	}
	if err := l.save(e); err != nil {
		l.Log.Error("cannot store the end of an attempt", "channel", l.channel.Name(), "message", e.Message, "error", err)
		l.unsettled[e.Message] = e
		return
	}
	delete(l.unsettled, e.Message)
}

// save stores the end of an attempt, and with it what goes another way instead.
func (l *lane) save(e ending) error {
	if e.failure == nil || l.Divert == nil {
		return l.store.Settle(e.Settlement)
	}
	return l.Divert(e.Settlement, *e.failure)
}

// hurry lets all that waits go out once the channel delivers again, in its order: each
// would else wait for a time of its own, and the oldest come last.
func (l *lane) hurry(s alerts.Settlement) {
	switch {
	case s.Outcome == alerts.RetryAt:
		l.down = true
	case s.Outcome == alerts.Delivered && l.down:
		l.down = false
		if err := l.store.Hurry(l.channel.Name(), s.At); err != nil {
			l.Log.Error("what waits for another attempt waits on", "channel", l.channel.Name(), "error", err)
		}
	}
}

func (l *lane) settleAgain() {
	for id, e := range l.unsettled {
		if err := l.save(e); err != nil {
			return
		}
		delete(l.unsettled, id)
	}
}

// failure is what is to be told of an attempt: a message that failed for good, and once
// a ring that is late but still tried. Nil: nothing.
func (l *lane) failure(q alerts.QueuedMessage, s alerts.Settlement) *Failure {
	late := s.Outcome == alerts.RetryAt && q.Level == alerts.Ring && s.NextAt.Sub(q.Due) >= RingPatience
	told := l.late[q.ID]
	if late {
		l.late[q.ID] = true
	} else if s.Outcome != alerts.RetryAt {
		delete(l.late, q.ID)
	}
	final := s.Outcome == alerts.Failed
	if !final && (!late || told) {
		return nil
	}
	return &Failure{Message: q.Message, Attempts: q.Attempts + 1, Final: final, Error: s.Error}
}

// report tells of a message that did not get through.
func (l *lane) report(f Failure) {
	l.Log.Warn("message did not get through", "channel", l.channel.Name(), "message", f.Message.ID,
		"alarm", f.Message.Alarm, "final", f.Final, "error", f.Error)
	l.Failed(f)
}
