package rehearsal

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/playback"
)

// A pile is the store of the outbox for one night. It is lost with it.
type pile struct {
	last    int64
	waiting []waiting
}

// A waiting message is not sent before next.
type waiting struct {
	alerts.QueuedMessage
	next time.Time
}

var errNoMessage = errors.New("rehearsal: no such message")

func (p *pile) put(m alerts.Message) {
	p.last++
	m.ID = p.last
	p.waiting = append(p.waiting, waiting{alerts.QueuedMessage{Message: m}, m.Due})
}

// DueMessages are those of a channel that may go out now, oldest first.
func (p *pile) DueMessages(channel string, now time.Time, limit int) (due []alerts.QueuedMessage, err error) {
	for _, m := range p.waiting {
		if m.Channel == channel && !m.next.After(now) {
			due = append(due, m.QueuedMessage)
		}
	}
	slices.SortStableFunc(due, func(a, b alerts.QueuedMessage) int { return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.ID, b.ID)) })
	return due[:min(len(due), limit)], nil
}

// NextDue is when the next message of a channel may go out.
func (p *pile) NextDue(channel string) (next time.Time, ok bool, err error) {
	for _, m := range p.waiting {
		if m.Channel == channel && (!ok || m.next.Before(next)) {
			next, ok = m.next, true
		}
	}
	return next, ok, nil
}

func (p *pile) find(id int64) (int, error) {
	i := slices.IndexFunc(p.waiting, func(m waiting) bool { return m.ID == id })
	if i < 0 {
		return 0, errNoMessage
	}
	return i, nil
}

// BeginAttempt notes that a message is being sent.
func (p *pile) BeginAttempt(id int64, _ time.Time) error {
	i, err := p.find(id)
	if err != nil {
		return err
	}
	p.waiting[i].Attempts++
	p.waiting[i].Unfinished = true
	return nil
}

// Settle notes how the attempt ended.
func (p *pile) Settle(s alerts.Settlement) error {
	i, err := p.find(s.Message)
	switch {
	case err != nil:
		return err
	case s.Outcome == alerts.RetryAt:
		p.waiting[i].Unfinished, p.waiting[i].next = false, s.NextAt
	default:
		p.waiting = slices.Delete(p.waiting, i, i+1)
	}
	return nil
}

// Hurry makes all messages of a channel due that wait for another attempt.
func (p *pile) Hurry(channel string, at time.Time) error {
	for i := range p.waiting {
		if m := &p.waiting[i]; m.Channel == channel && m.next.After(at) && !m.Due.After(at) {
			m.next = at
		}
	}
	return nil
}

// A nightClock tells the outbox the time of the night. Nothing waits by it.
type nightClock struct{ *playback.Player }

func (c nightClock) Now() time.Time                     { return c.Player.Now }
func (nightClock) After(time.Duration) <-chan time.Time { return nil }

// A pretendPhone shows what reaches it, unless the scenario says that it is away. The
// night has only its minutes: what reaches the phone at once was sent when it was due.
type pretendPhone struct {
	name  string
	tried map[int64]bool // messages that did not reach it
	*rehearsal
}

func (p pretendPhone) Name() string            { return p.name }
func (p pretendPhone) Deadline() time.Duration { return time.Minute }

func (p pretendPhone) Send(_ context.Context, m alerts.Message) (string, error) {
	at := m.Due
	if p.tried[m.ID] {
		at = p.Now
	}
	if p.scenario.PhoneAway(at) {
		p.tried[m.ID] = true
		return "", &alerts.SendError{Retry: true, Text: "the phone is away"}
	}
	p.rings = append(p.rings, p.ringOf(m, at))
	return "shown", nil
}
