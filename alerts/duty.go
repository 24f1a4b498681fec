package alerts

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// longestDuty bounds how long one person may have the duty. Proposal: a week away.
const longestDuty = 7 * 24 * time.Hour

// Duty says who has the night, and until when.
type Duty struct {
	By    string    `json:"by"`
	Until time.Time `json:"until"`
}

// Take gives the duty to a person until a time, at most a week ahead. Who had it is
// relieved.
func (s *People) Take(p Policy, d Duty, now time.Time) error {
	switch {
	case len(p.Persons) == 0:
		return errors.New("nobody is in the configuration to have the duty: add a [[person]]")
	case !p.Knows(d.By):
		return fmt.Errorf("%q is not a person of the configuration; those are %s", d.By, initialsOf(p.Persons))
	case !d.Until.After(now):
		return fmt.Errorf("the end %s is not ahead", p.clock(d.Until, now))
	case d.Until.Sub(now) > longestDuty:
		return errors.New("at most seven days at a time")
	}
	s.Duty = d
	return nil
}

// line is the order in which persons are called at a time: who has the duty, then
// the others as configured; only those whom a ring reaches.
func (s *People) line(p Policy, at time.Time) []Person {
	persons := reached(p.Persons, p.takers(Ring))
	i := slices.IndexFunc(persons, func(q Person) bool { return q.Initials == s.Duty.By })
	if i < 0 || !at.Before(s.Duty.Until) {
		return persons
	}
	return slices.Concat(persons[i:i+1], persons[:i], persons[i+1:])
}

// The steps of a call.
const (
	callFirst  = iota // one person was told
	callSecond        // and a second
	callAll           // all were told
	callNobody        // nobody answered by the end of B8
)

// A Call is a ring that waits for an answer.
type Call struct {
	Number int64     `json:"number"`
	Since  time.Time `json:"since"`
	Step   int       `json:"step"`
	Told   []string  `json:"told,omitempty"` // initials, in the order they were told
}

// due is when the next step is taken, zero when all were.
func (c *Call) due() time.Time {
	if c.Step >= callNobody {
		return time.Time{}
	}
	return c.Since.Add(callDue(c.Step))
}

// callDue is how long after it was told a call leaves a step for the next: for the
// second person, for all of them, and then for every way there is.
func callDue(step int) time.Duration { return answerWithin + time.Duration(step)*askAgainEvery }

func (c *Call) told(persons []Person) {
	for _, q := range persons {
		if !slices.Contains(c.Told, q.Initials) {
			c.Told = append(c.Told, q.Initials)
		}
	}
}

// call returns whom a ring goes to, and remembers that they have to answer. A repeat
// goes to those who were told before; an alarm that worsens, or that asks again
// after an answer, begins at the top, and those who were told hear it too.
func (s *People) call(p Policy, a *Alarm, ev Event) []Person {
	line := s.line(p, ev.At)
	i := slices.IndexFunc(s.Calls, func(c Call) bool { return c.Number == ev.Number })
	if i < 0 {
		c := Call{Number: ev.Number, Since: ev.At}
		if n := len(a.Latest.Answers); n > 0 && p.Knows(a.Latest.Answers[n-1].By) {
			c.Told = []string{a.Latest.Answers[n-1].By} // who was on it
		}
		s.Calls = append(s.Calls, c)
		i = len(s.Calls) - 1
	} else if ev.Kind == Repeated {
		return among(line, s.Calls[i].Told)
	}
	s.Calls[i].Since, s.Calls[i].Step = ev.At, callFirst
	s.Calls[i].told(line[:min(1, len(line))])
	return among(line, s.Calls[i].Told)
}

// among are the persons whose initials are in the list.
func among(persons []Person, initials []string) (found []Person) {
	for _, q := range persons {
		if slices.Contains(initials, q.Initials) {
			found = append(found, q)
		}
	}
	return found
}

// hangUp ends the call about an alarm: it was answered, is over, or is hidden.
func (s *People) hangUp(number int64) {
	s.Calls = slices.DeleteFunc(s.Calls, func(c Call) bool { return c.Number == number })
}
