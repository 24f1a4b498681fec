package outbox

import "time"

// leapFrom is how much longer than it was to be a wait has to take to be a leap: more than a
// busy machine is late by. Proposal.
const leapFrom = 5 * time.Minute

// A leap is time in which nothing could be tried: the clock stepped ahead, or the machine slept.
type leap struct {
	at time.Time // its end
	by time.Duration
}

// waited looks at the clock after a wait that was to take no longer than most.
func (l *lane) waited(most time.Duration) {
	now := l.clock.Now()
	if over := now.Sub(l.looked) - most; over >= leapFrom {
		l.leaps = append(l.leaps, leap{now, over})
	}
	for len(l.leaps) > 0 && now.Sub(l.leaps[0].at) > l.Backoff.GiveUp {
		l.leaps = l.leaps[1:] // what was due before it has been tried for long enough since
	}
	l.looked = now
}

// underWay is for how long a message that was due at a time has been on its way, without what
// the clock leapt over meanwhile: it would else be given up by a step of a day, although it was
// tried for an hour. Time without power counts; see fewestAttempts.
func (l *lane) underWay(due, now time.Time) time.Duration {
	d := now.Sub(due)
	for _, p := range l.leaps {
		if p.at.After(due) {
			d -= p.by
		}
	}
	return d
}
