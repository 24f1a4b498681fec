package process

import (
	"fmt"
	"slices"
	"time"
)

// A ReviewEntry says that the record was read by another person.
type ReviewEntry struct {
	ID    string    `json:"id"`    // of its command
	At    time.Time `json:"at"`    // by the person's word
	Typed time.Time `json:"typed"` // by the daemon's clock
	By    string    `json:"by"`
	Text  string    `json:"text,omitempty"`
}

func (b *Batch) reviewed(c Command) {
	b.Reviews = append(b.Reviews, ReviewEntry{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, Text: c.Text})
	slices.SortStableFunc(b.Reviews, func(a, b ReviewEntry) int { return a.Typed.Compare(b.Typed) })
}

// LastReview is the newest review; false when there is none.
func (b *Batch) LastReview() (ReviewEntry, bool) {
	if len(b.Reviews) == 0 {
		return ReviewEntry{}, false
	}
	return b.Reviews[len(b.Reviews)-1], true
}

// sameReview tells the second of two people who press the button of a review: within a
// minute nobody reads a record anew. (proposal)
func (b *Batch) sameReview(c Command) error {
	last, ok := b.LastReview()
	if !ok || c.Typed.Sub(last.Typed).Abs() >= time.Minute || last.Typed.Before(b.closedTyped()) {
		return nil
	}
	return already(Entered{last.ID, CommandReviewed, last.By, last.At, last.Typed})
}

// WaitsForReview reports a batch that is closed and was not reviewed since.
func (b *Batch) WaitsForReview() bool {
	last, ok := b.LastReview()
	return !b.Open() && (!ok || last.Typed.Before(b.closedTyped()))
}

// closedTyped is when the close was typed; a batch closed by an older flitch knows only
// when it happened.
func (b *Batch) closedTyped() time.Time {
	if b.End.Typed.IsZero() {
		return b.Closed
	}
	return b.End.Typed
}

// CheckReviewer refuses a reviewer who made the record: 9 CFR 417.5(c) asks, where that can
// be done, for a review by somebody else than who made the entries.
func CheckReviewer(b *Batch, c Command) error {
	made := ""
	switch {
	case c.Kind != CommandReviewed:
		return nil
	case b.By == c.By:
		made = "began the batch"
	case slices.ContainsFunc(b.Actions, func(e ActionEntry) bool { return e.By == c.By }):
		made = "wrote a corrective action of it"
	default:
		return nil
	}
	return refuse(fmt.Sprintf("%s %s: the review is somebody else's", c.By, made), "let another person read it; a shop of one says reviewer_differs = false under [site] of the configuration")
}
