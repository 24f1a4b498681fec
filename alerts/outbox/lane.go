package outbox

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"flitch/alerts"
)

const (
	claimAtMost = 500             // messages looked at in one go
	idle        = time.Minute     // looks again this often, woken or not
	storePause  = 5 * time.Second // after the store has refused
)

// A lane is the loop of one channel. Only its own goroutine touches it.
type lane struct {
	Options
	store   Store
	clock   Clock
	channel Channel
	random  *rand.Rand
	wake    chan struct{}
	stop    context.CancelFunc // nil: not running
	done    chan struct{}

	down      bool             // the last attempt failed, or nobody knows
	held      time.Time        // the other side asked for quiet until then
	unsettled map[int64]ending // attempts whose end could not be stored
	late      map[int64]bool   // rings already reported as late
	leaps     []leap           // of the clock, or of a machine that slept
	looked    time.Time        // when the clock was last looked at
}

func (l *lane) run(ctx context.Context) {
	l.looked = l.clock.Now()
	for ctx.Err() == nil {
		wait := l.turn(ctx)
		if wait == 0 {
			continue
		}
		select {
		case <-ctx.Done():
		case <-l.wake:
		case <-l.clock.After(wait):
		}
		l.waited(wait)
	}
}

// turn sends at most one message and returns how long to wait before the next
// turn. One at a time, so that a ring that comes in meanwhile goes before what
// was waiting.
func (l *lane) turn(ctx context.Context) time.Duration {
	l.settleAgain()
	now := l.clock.Now()
	due, err := l.store.DueMessages(l.channel.Name(), now, claimAtMost)
	if err != nil {
		l.Log.Error("cannot read the outbox", "channel", l.channel.Name(), "error", err)
		return storePause
	}
	due = slices.DeleteFunc(due, func(m alerts.QueuedMessage) bool {
		return l.isOver(m.ID, now) || m.Level < alerts.Ring && now.Before(l.held)
	})
	if gone := merge(due, now); len(gone) > 0 {
		return l.supersede(gone, now)
	}
	if len(due) > 0 {
		return l.attempt(ctx, l.asKnownHere(due[loudest(due)]))
	}
	return l.untilNext(now)
}

// isOver reports whether a message that the store takes for due was sent, or is not to be tried
// again yet.
func (l *lane) isOver(id int64, now time.Time) bool {
	e, unsettled := l.unsettled[id]
	return unsettled && (e.Outcome != alerts.RetryAt || now.Before(e.NextAt))
}

// asKnownHere is a message with what the store could not be told of its last attempt.
func (l *lane) asKnownHere(q alerts.QueuedMessage) alerts.QueuedMessage {
	if e, unsettled := l.unsettled[q.ID]; unsettled {
		q.Attempts += e.attempts
		q.Unfinished = e.Receipt == alerts.MayHaveCome
	}
	return q
}

// untilNext is the time until a message is due, within bounds.
func (l *lane) untilNext(now time.Time) time.Duration {
	wait := idle
	if len(l.unsettled) > 0 {
		wait = storePause
	}
	if now.Before(l.held) {
		return min(storePause, l.held.Sub(now)) // a ring may come due before that
	}
	next, ok, err := l.store.NextDue(l.channel.Name())
	if err != nil {
		l.Log.Error("cannot read the outbox", "channel", l.channel.Name(), "error", err)
		return storePause
	}
	if !ok {
		return wait
	}
	if until := next.Sub(now); until > 0 {
		return min(wait, until)
	}
	return min(wait, storePause) // due, but sent and not yet settled
}

// attempt sends one message and settles what came of it. A ring is sent even if
// the store refuses to note that: a second ring does less harm than none.
func (l *lane) attempt(ctx context.Context, q alerts.QueuedMessage) time.Duration {
	began, unnoted := l.clock.Now(), l.unsettled[q.ID].attempts
	if err := l.store.BeginAttempt(q.ID, began); err != nil {
		unnoted++
		l.Log.Error("cannot store an attempt", "channel", l.channel.Name(), "message", q.ID, "error", err)
		if q.Level < alerts.Ring {
			return storePause
		}
	}
	m := q.Message
	if q.Unfinished {
		m.Subject += " (may repeat)"
	}
	sending, cancel := context.WithTimeout(ctx, l.channel.Deadline())
	receipt, err := l.channel.Send(sending, m)
	cancel()
	if err != nil && ctx.Err() != nil {
		return 0 // we are stopping and do not know: the attempt stays without an end
	}
	l.waited(l.channel.Deadline())
	ended := l.clock.Now()
	s := l.judge(q, receipt, err, ended)
	f := l.failure(q, s)
	l.settle(ending{Settlement: s, failure: f, attempts: unnoted})
	l.hurry(s)
	l.Observe(l.channel.Name(), s, ended.Sub(began))
	if f != nil {
		l.report(*f)
	}
	return 0
}

// supersede settles merged messages, honestly: they were never delivered.
func (l *lane) supersede(gone []merged, now time.Time) time.Duration {
	for _, g := range gone {
		delete(l.late, g.old)
		l.settle(ending{Settlement: alerts.Settlement{
			Message: g.old, Outcome: alerts.Failed, At: now,
			Error: fmt.Sprintf("superseded by message %d", g.by),
		}})
	}
	return 0
}
