package alerts

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Escalated is the kind of a message that goes on to the next person because nobody
// has answered the ring.
const Escalated EventKind = "escalated"

// A Standing alarm is what a call is about, as it is now.
type Standing struct {
	Entry Entry
	Alarm *Alarm
	Near  Surroundings
}

// A Passing is what came of time passing for people: messages, and the line of the
// journal that says who was told and why.
type Passing struct {
	Kind     string // "escalated", "B8", "summary", "duty"
	Subject  string // what the alarm is about; empty when it is about none or several
	Text     string
	Messages []Message
}

// Tick follows the passing of time: the end of a duty, calls that nobody answers,
// summaries whose time has come. look finds a standing alarm by its number.
func (s *People) Tick(p Policy, now time.Time, look func(number int64) (Standing, bool)) []Passing {
	if len(p.Persons) == 0 {
		return s.release(p.orEverybody(), now, look)
	}
	var passed []Passing
	if s.Duty.By != "" && !now.Before(s.Duty.Until) {
		passed = append(passed, Passing{Kind: "duty", Text: "the duty of " + s.Duty.By + " is over"})
		s.Duty = Duty{}
	}
	for _, c := range slices.Clone(s.Calls) {
		if due := c.due(); due.IsZero() || now.Before(due) {
			continue
		}
		if done, ok := s.goOn(p, c.Number, now, look); ok {
			passed = append(passed, done)
		}
	}
	return append(passed, s.release(p, now, look)...)
}

// Idle reports whether the passing of time can change nothing here.
func (s *People) Idle() bool {
	return s.Duty.By == "" && len(s.Calls) == 0 && len(s.Waiting) == 0
}

// goOn takes the steps of a call that are due, at once: after a long downtime
// everybody hears of it one time.
func (s *People) goOn(p Policy, number int64, now time.Time, look func(int64) (Standing, bool)) (Passing, bool) {
	st, standing := look(number)
	if !standing || st.Alarm.acknowledged() {
		s.hangUp(number)
		return Passing{}, false
	}
	if !st.Alarm.Condition.Inside.IsZero() {
		return Passing{}, false // it may be over in a moment
	}
	if line := s.line(p, now); st.Entry.TellAtNight && len(p.awake(line, now)) < len(line) {
		return Passing{}, false // in the morning
	}
	c := &s.Calls[slices.IndexFunc(s.Calls, func(c Call) bool { return c.Number == number })]
	ev := st.Alarm.event(st.Entry, Escalated, now, "nobody has answered")
	if why := whyHidden(st.Entry, ev, st.Near, nil); why != "" || p.level(st.Entry, ev) < Ring {
		s.hangUp(number)
		return Passing{}, false
	}
	before := strings.Join(c.Told, ", ")
	for due := c.due(); passed(due, now); due = c.due() {
		c.Step++
	}
	return s.escalate(p, st, ev, c, before), true
}

// escalate sends a ring on to those whose turn it is.
func (s *People) escalate(p Policy, st Standing, ev Event, c *Call, before string) Passing {
	next, channels := s.turn(p, c, ev.At)
	waited := fmt.Sprintf("%s called at %s, no answer for %s.", before, p.clock(c.Since, ev.At), span(ev.At.Sub(c.Since)))
	if before == "" {
		waited = fmt.Sprintf("No answer for %s.", span(ev.At.Sub(c.Since)))
	}
	near := st.Near
	near.Details = append(slices.Clip(near.Details), waited)
	m := p.letter(st.Entry, ev, near)
	done := Passing{Kind: string(Escalated), Subject: ev.Subject}
	var ways []string
	usual := p.takers(Ring)
	for _, q := range next {
		own := q.own(channels)
		if s.asked(q, ev.Number, ev.At) { // by a repeat, the same way
			own = without(own, usual)
		}
		ways = append(ways, own...)
		s.sent(q, Sending{At: ev.At, Alarm: ev.Number})
	}
	c.told(next)
	who := initialsOf(next)
	done.Text = fmt.Sprintf("alarm %d %s: nobody answered in %s; goes to %s", ev.Number, ev.Entry, span(ev.At.Sub(c.Since)), who)
	if c.Step >= callNobody {
		siren := p.ownerless(channels)
		if ev.At.Sub(st.Alarm.Asked) < askedApart {
			siren = without(siren, usual)
		}
		ways = append(ways, siren...)
		done.Kind = nobodyAnswers
		done.Text = fmt.Sprintf("alarm %d %s: nobody answered in %s (%s); goes to %s again, by every way there is", ev.Number, ev.Entry,
			span(ev.At.Sub(c.Since)), nobodyAnswers, who)
	}
	done.Messages = m.to(ways)
	st.Alarm.tell(channelsOf(done.Messages))
	return done
}

// turn returns whom a step of a call goes to, and through which channels.
func (s *People) turn(p Policy, c *Call, at time.Time) ([]Person, []string) {
	line, channels := s.line(p, at), p.takers(Ring)
	switch {
	case c.Step == callSecond:
		for _, q := range line {
			if !slices.Contains(c.Told, q.Initials) {
				return []Person{q}, channels
			}
		}
		return line, channels // alone: asked once more
	case c.Step >= callNobody:
		channels = append(channels, p.backups(Ring)...)
		return reached(p.Persons, channels), channels
	}
	return line, channels
}

// without are the names that are not among the others.
func without(names, others []string) (left []string) {
	for _, name := range names {
		if !slices.Contains(others, name) {
			left = append(left, name)
		}
	}
	return left
}

func initialsOf(persons []Person) string {
	if len(persons) == 0 {
		return "nobody"
	}
	initials := make([]string, len(persons))
	for i, q := range persons {
		initials[i] = q.Initials
	}
	return strings.Join(initials, ", ")
}
