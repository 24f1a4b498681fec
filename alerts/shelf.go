package alerts

import (
	"errors"
	"fmt"
	"time"
)

// longestShelf bounds how long an alarm may be out of sight. Proposal.
const longestShelf = 24 * time.Hour

// A Shelf hides one alarm from people until a time: a known trouble, a warm load
// just put in. It hides messages only; the condition is followed and every event
// is journalled.
type Shelf struct {
	By     string    `json:"by,omitempty"`
	Reason string    `json:"reason,omitempty"`
	Until  time.Time `json:"until,omitzero"` // zero: not on the shelf
}

// PutOnShelf hides a until a time, at most 24 h ahead. It needs an owner and a
// reason; there is no shelf without an end.
func PutOnShelf(a *Alarm, s Shelf, now time.Time) error {
	switch {
	case s.By == "" || s.Reason == "":
		return errors.New("shelf: say who and why")
	case !s.Until.After(now):
		return fmt.Errorf("shelf: the end %s is not ahead; give a later time", s.Until.Format(time.RFC3339))
	case s.Until.Sub(now) > longestShelf:
		return fmt.Errorf("shelf: at most %s at a time; put it back when that has passed", longestShelf)
	}
	a.Shelf = s
	return nil
}

// hides says why nobody is told at a time, or nothing.
func (s Shelf) hides(at time.Time) string {
	if s.Until.IsZero() || !at.Before(s.Until) {
		return ""
	}
	return fmt.Sprintf("on the shelf until %s by %s: %s", s.Until.Format(time.RFC3339), s.By, s.Reason)
}
