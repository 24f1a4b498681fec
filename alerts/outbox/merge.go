package outbox

import (
	"slices"
	"time"

	"flitch/alerts"
)

// mergeAfter is how long overdue a message must be before a newer one of the
// same alarm may take its place. Proposal.
const mergeAfter = 10 * time.Minute

// A merged message is not sent because a newer one of the same alarm says more.
type merged struct {
	old int64 // message
	by  int64 // message that takes its place
}

// merge finds, among due messages in the order they became due, those that a
// newer one of the same alarm has overtaken. After hours of downtime one message
// goes out for each alarm, not forty. A ring is never overtaken by something
// quieter: the newest ring stays beside it.
func merge(due []alerts.QueuedMessage, now time.Time) (gone []merged) {
	newest, ring := map[int64]int64{}, map[int64]int64{}
	for _, m := range due {
		newest[m.Alarm] = m.ID
		if m.Level == alerts.Ring {
			ring[m.Alarm] = m.ID
		}
	}
	for _, m := range due {
		if m.Alarm == 0 || m.ID == newest[m.Alarm] || m.ID == ring[m.Alarm] || now.Sub(m.Due) < mergeAfter {
			continue
		}
		by := newest[m.Alarm]
		if m.Level == alerts.Ring {
			by = ring[m.Alarm]
		}
		gone = append(gone, merged{old: m.ID, by: by})
	}
	return gone
}

// loudest returns the index of the message to send first: rings before the rest,
// then in order.
func loudest(due []alerts.QueuedMessage) int {
	return max(0, slices.IndexFunc(due, func(m alerts.QueuedMessage) bool { return m.Level == alerts.Ring }))
}
