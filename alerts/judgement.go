package alerts

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// maxRung bounds how many rings can wait for a judgement; the oldest are forgotten.
const maxRung = 200

// A Rung is a ring that nobody has judged yet.
type Rung struct {
	Number int64  `json:"number"`
	Entry  string `json:"entry"`
}

// Judgements are the words for how good a ring was.
var Judgements = [...]string{"useful", "false", "late"}

// A Judgement is what a person said of a ring afterwards. Delays are tuned by them.
type Judgement struct {
	Number int64     `json:"number"`
	Entry  string    `json:"entry"`
	Word   string    `json:"word"` // one of Judgements
	By     string    `json:"by"`
	At     time.Time `json:"at"`
}

// rang remembers a ring until somebody judges it. One that was judged and rings on is not
// judged again: a second word would take the place of the first.
func (s *People) rang(ev Event) {
	if slices.Contains(s.Judged, ev.Number) || slices.ContainsFunc(s.Rung, func(r Rung) bool { return r.Number == ev.Number }) {
		return
	}
	s.Rung = append(s.Rung, Rung{ev.Number, ev.Entry})
	s.Rung = s.Rung[max(0, len(s.Rung)-maxRung):]
}

// ErrNotRung says that there is no ring of that number to judge.
var ErrNotRung = errors.New("it did not ring, or was judged before")

// Judgeable checks a judgement without taking it.
func (s *People) Judgeable(j Judgement) error {
	switch {
	case j.By == "":
		return errors.New("nobody signed")
	case !slices.Contains(Judgements[:], j.Word):
		return fmt.Errorf("%q is no judgement: say %s", j.Word, strings.Join(Judgements[:], ", "))
	case !slices.ContainsFunc(s.Rung, func(r Rung) bool { return r.Number == j.Number }):
		return ErrNotRung
	}
	return nil
}

// Judge takes one judgement for each ring and fills in its entry.
func (s *People) Judge(j Judgement) (Judgement, error) {
	if err := s.Judgeable(j); err != nil {
		return j, err
	}
	i := slices.IndexFunc(s.Rung, func(r Rung) bool { return r.Number == j.Number })
	j.Entry = s.Rung[i].Entry
	s.Rung = slices.Delete(s.Rung, i, i+1)
	s.Judged = append(s.Judged, j.Number)
	s.Judged = s.Judged[max(0, len(s.Judged)-maxRung):]
	return j, nil
}
