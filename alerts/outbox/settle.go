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

// settle stores the end of an attempt. If the store refuses, the end is kept and
// stored later; until then the message is not sent again.
func (l *lane) settle(s alerts.Settlement) {
	if err := l.store.Settle(s); err != nil {
		l.Log.Error("cannot store the end of an attempt", "channel", l.channel.Name(), "message", s.Message, "error", err)
		l.unsettled[s.Message] = s
	}
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
	for id, s := range l.unsettled {
		if err := l.store.Settle(s); err != nil {
			return
		}
		delete(l.unsettled, id)
	}
}

// report tells of a message that failed for good, and once of a ring that is
// late but still tried.
func (l *lane) report(q alerts.QueuedMessage, s alerts.Settlement) {
	f := Failure{Message: q.Message, Attempts: q.Attempts + 1, Final: s.Outcome == alerts.Failed, Error: s.Error}
	late := s.Outcome == alerts.RetryAt && q.Level == alerts.Ring && s.NextAt.Sub(q.Due) >= RingPatience
	if f.Final || late && !l.late[q.ID] {
		l.Log.Warn("message did not get through", "channel", l.channel.Name(), "message", q.ID,
			"alarm", q.Alarm, "final", f.Final, "error", s.Error)
		l.Failed(f)
	}
	if late {
		l.late[q.ID] = true
	} else if s.Outcome != alerts.RetryAt {
		delete(l.late, q.ID)
	}
}
