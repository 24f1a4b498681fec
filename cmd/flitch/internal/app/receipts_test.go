package app

import (
	"fmt"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/store"
)

// compareMessages holds what was to be sent against what the phone received, given
// when the daemon was killed: every message came, with its own number, once and at
// most once more for each kill that cut an attempt off; each repeat says that it
// may be one.
func compareMessages(stored []store.MessageRecord, received []ring, deaths []time.Time) (faults []string) {
	say := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	receipts := map[int64][]ring{}
	for _, r := range received {
		receipts[r.Message] = append(receipts[r.Message], r)
	}
	cut := map[int]int64{} // kill: message whose attempt it cut off
	for _, m := range stored {
		for _, fault := range compareMessage(m, receipts[m.ID]) {
			say("message %d (alarm %d, %s): %s", m.ID, m.Alarm, m.Kind, fault)
		}
		delete(receipts, m.ID)
		for _, a := range m.Attempts {
			if !a.Ended.IsZero() {
				continue
			}
			kill := killAfter(a.Began, deaths)
			if other, double := cut[kill]; kill < 0 || double {
				say("message %d: an attempt without an end and without a kill of its own (%d, that of message %d)", m.ID, kill, other)
			}
			cut[kill] = m.ID
		}
	}
	for id, r := range receipts {
		say("message %d came %d times and is not in the outbox", id, len(r))
	}
	return faults
}

// compareMessage looks at one message.
func compareMessage(m store.MessageRecord, received []ring) (faults []string) {
	say := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	delivered, cut, plain := 0, 0, 0
	for _, a := range m.Attempts {
		switch {
		case a.Ended.IsZero():
			cut++
		case a.Outcome == alerts.Delivered:
			delivered++
		default:
			say("an attempt ended with %q: %s", a.Outcome, a.Error)
		}
	}
	for _, r := range received {
		if r.Alarm != m.Alarm || r.Kind != string(m.Kind) || r.Entry != m.Entry {
			say("came as alarm %d, %s of %s", r.Alarm, r.Kind, r.Entry)
		}
		if !strings.HasSuffix(r.Title, "(may repeat)") {
			plain++
		}
	}
	if m.Status != store.MessageDelivered || delivered != 1 {
		say("is %s after %d attempts that delivered it", m.Status, delivered)
	}
	if n := len(received); n < 1 || n > 1+cut {
		say("came %d times, and %d attempts were cut off", n, cut)
	}
	if plain > 1 {
		say("came %d times without saying that it may be a repeat", plain)
	}
	return faults
}

// killAfter returns the first kill that is not before at, or -1.
func killAfter(at time.Time, deaths []time.Time) int {
	for i, death := range deaths {
		if !death.Before(at) {
			return i
		}
	}
	return -1
}
