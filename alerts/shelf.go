package alerts

import (
	"errors"
	"fmt"
	"time"
)

// longestShelf and longestOut bound how long an alarm may be out of sight, for a
// known trouble and for a thing that is being mended. Proposals.
const (
	longestShelf = 24 * time.Hour
	longestOut   = 7 * 24 * time.Hour
)

// A Shelf hides one alarm from people until a time: a known trouble, a warm load
// just put in. It hides messages only; the condition is followed and every event
// is journalled.
type Shelf struct {
	ID     string    `json:"id,omitempty"` // of the command that said it
	At     time.Time `json:"at,omitzero"`  // when it was put there
	By     string    `json:"by,omitempty"`
	Reason string    `json:"reason,omitempty"`
	Until  time.Time `json:"until,omitzero"` // zero: not on the shelf
	Out    bool      `json:"out,omitempty"`  // out of service: being mended, may take days
}

// Word says what kind of shelf it is.
func (s Shelf) Word() string {
	if s.Out {
		return "out of service"
	}
	return "on the shelf"
}

// PutOnShelf hides a until a time, at most 24 h ahead, out of service at most seven
// days. It needs an owner and a reason; there is no shelf without an end.
func PutOnShelf(a *Alarm, s Shelf, now time.Time) error {
	if err := s.Check(now); err != nil {
		return err
	}
	a.Shelf = s
	return nil
}

// Check says what is wrong with a shelf, without using it.
func (s Shelf) Check(now time.Time) error {
	longest := longestShelf
	if s.Out {
		longest = longestOut
	}
	switch {
	case s.By == "" || s.Reason == "":
		return errors.New("shelf: say who and why")
	case !s.Until.After(now):
		return fmt.Errorf("shelf: the end %s is not ahead; give a later time", s.Until.Format(time.RFC3339))
	case s.Until.Sub(now) > longest:
		return fmt.Errorf("shelf: %s at most %s at a time; put it back when that has passed", s.Word(), span(longest))
	}
	return nil
}

// Words is a shelf in one line; clock writes its end.
func (s Shelf) Words(clock func(time.Time) string) string {
	word := "shelved"
	if s.Out {
		word = "out of service"
	}
	return fmt.Sprintf("%s until %s by %s: %s", word, clock(s.Until), s.By, s.Reason)
}

// Hides says why nobody is told at a time, or nothing. Its end is on the clock of the zone,
// as in everything else that people read; nil is UTC.
func (s Shelf) Hides(at time.Time, zone *time.Location) string {
	if s.Until.IsZero() || !at.Before(s.Until) {
		return ""
	}
	return fmt.Sprintf("%s until %s by %s: %s", s.Word(), Policy{Location: zone}.clock(s.Until, at), s.By, s.Reason)
}
