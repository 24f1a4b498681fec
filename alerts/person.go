package alerts

import (
	"slices"
	"strings"
	"time"
)

// A Person is somebody who can be told: by which channels, and when not to be woken
// for what can wait.
type Person struct {
	Name     string
	Initials string   // as signed: "M.O."
	Channels []string // of the policy, at least one
	Quiet    Quiet
}

// People is what is remembered about who is told: who has the night, which rings
// wait for an answer, what waits for somebody's morning. It is stored as JSON. Its
// zero value remembers nothing.
type People struct {
	Duty     Duty                 `json:"duty,omitzero"`
	Calls    []Call               `json:"calls,omitempty"`    // rings nobody has answered
	Answered []Call               `json:"answered,omitempty"` // the newest that somebody has; one goes on when that is taken back
	Waiting  map[string]Waiting   `json:"waiting,omitempty"`  // by initials
	Sent     map[string][]Sending `json:"sendings,omitempty"` // by initials: those of the last hour
	Rung     []Rung               `json:"rung,omitempty"`     // rings that nobody has judged, oldest first
	Judged   []int64              `json:"judged,omitempty"`   // numbers of those that somebody has

	// Chatter is when an alarm that came again and again last came or went, by initials
	// and alarm: until it has been quiet it stays in summaries.
	Chatter map[string]map[string]time.Time `json:"chatter,omitempty"`
}

// Knows reports whether the initials are those of a person of the policy.
func (p Policy) Knows(initials string) bool {
	return slices.ContainsFunc(p.Persons, func(q Person) bool { return q.Initials == initials })
}

// own are those of the channels that belong to the person.
func (q Person) own(channels []string) (names []string) {
	for _, name := range channels {
		if slices.Contains(q.Channels, name) {
			names = append(names, name)
		}
	}
	return names
}

// ownerless are those of the channels that belong to nobody, such as a siren: they
// have no duty and no night.
func (p Policy) ownerless(channels []string) (names []string) {
	for _, name := range channels {
		if !slices.ContainsFunc(p.Persons, func(q Person) bool { return slices.Contains(q.Channels, name) }) {
			names = append(names, name)
		}
	}
	return names
}

// backups are the backup channels that take the level.
func (p Policy) backups(level Level) (names []string) {
	for _, c := range p.Channels {
		if c.Backup && level >= c.Minimum {
			names = append(names, c.Name)
		}
	}
	return names
}

// everybody stands for a household that names nobody: whoever hears its channels.
const everybody = "everybody"

// orEverybody is the policy with somebody in it: what can wait is folded for a
// household without persons, too.
func (p Policy) orEverybody() Policy {
	if len(p.Persons) == 0 {
		p.Persons = []Person{{Initials: everybody, Channels: p.takers(Ring)}}
	}
	return p
}

// awake are those of the persons who are not in their quiet hours.
func (p Policy) awake(persons []Person, at time.Time) (found []Person) {
	for _, q := range persons {
		if _, quiet := q.Quiet.End(at, p.Location); !quiet {
			found = append(found, q)
		}
	}
	return found
}

// raiseOf is the alarm that an event tells of for the first time, or empty.
func raiseOf(ev Event) string {
	if ev.Kind != Raised {
		return ""
	}
	return alarmOf(ev.Occurrence)
}

// Plan turns an event into messages like the function of that name, and chooses the
// persons: a ring goes to who is being called, a tell to everybody, each in their
// own time. told names those who were sent something; later those whose summary it
// waits for. Without persons in the policy every channel is told, as ever.
func (s *People) Plan(p Policy, e Entry, a *Alarm, ev Event, near Surroundings) (messages []Message, told, later []string, hidden string) {
	if ring := p.level(e, ev) == Ring && ev.Kind != Cleared; len(p.Persons) == 0 && ring {
		s.drop(everybody, ev.Number)
		messages, hidden = Plan(p, e, a, ev, near)
	} else {
		messages, told, later, hidden = s.plan(p.orEverybody(), e, a, ev, near)
	}
	if hidden == "" && ev.Kind != Cleared && p.level(e, ev) == Ring {
		s.rang(ev)
	}
	return messages, told, later, hidden
}

func (s *People) plan(p Policy, e Entry, a *Alarm, ev Event, near Surroundings) (messages []Message, told, later []string, hidden string) {
	heard := a.Told
	waiting := s.follow(ev.Occurrence)
	if ev.Kind == Cleared {
		a.Told = nil
	}
	if hidden = whyHidden(e, ev, near, heard); hidden != "" {
		s.settleCall(ev)
		if ev.Kind == Cleared && len(waiting) > 0 {
			return nil, nil, waiting, ""
		}
		return nil, nil, nil, hidden
	}
	m := p.letter(e, ev, near)
	channels := p.takers(m.Level)
	others, dead := p.others(ev.Subject, m.Level)
	if dead {
		channels = others
	}
	if ev.Kind == Cleared {
		channels = heard
	}
	ways := p.ownerless(channels)
	called := reached(p.Persons, channels)
	if e.TellAtNight && len(called) > 0 && len(p.awake(called, ev.At)) == 0 {
		ways = nil // a siren wakes people, too
	}
	if ev.Kind == Cleared {
		s.hangUp(ev.Number)
	} else if m.Level == Ring && !dead && !(e.TellAtNight && len(p.awake(called, ev.At)) < len(called)) {
		called = s.call(p, a, ev)
	}
	told, later, moment := s.share(p, e, m.Level, called, ev)
	for _, q := range among(called, told) {
		ways = append(ways, q.own(channels)...)
	}
	messages = m.to(ways)
	switch {
	case len(messages)+len(later) > 0:
	case len(moment) > 0:
		return nil, nil, nil, "asked " + strings.Join(moment, ", ") + " a moment ago"
	default:
		return nil, nil, nil, "no channel takes level " + m.Level.String()
	}
	if ev.Kind != Cleared {
		a.tell(channelsOf(messages))
	}
	return messages, told, later, ""
}

// share says which of those who are called are sent an event, for whom it waits, and
// who was asked less than a minute ago.
func (s *People) share(p Policy, e Entry, loud Level, called []Person, ev Event) (told, later, moment []string) {
	for _, q := range called {
		level := loud
		if _, quiet := q.Quiet.End(ev.At, p.Location); quiet && e.TellAtNight {
			level = min(level, Tell)
		}
		switch {
		case ev.Kind == Repeated && s.asked(q, ev.Number, ev.At):
			moment = append(moment, q.Initials)
		case s.mayWait(p, q, level, e, ev):
			later = append(later, q.Initials)
		default:
			s.sent(q, Sending{ev.At, raiseOf(ev), ev.Number})
			told = append(told, q.Initials)
		}
	}
	return told, later, moment
}

// letter is the message of an event, not yet addressed.
func (p Policy) letter(e Entry, ev Event, near Surroundings) Message {
	level := p.level(e, ev)
	if ev.Kind == Cleared {
		level = min(level, Tell)
	}
	return Message{Alarm: ev.Number, Kind: ev.Kind, Entry: e.ID, Level: level,
		Subject: p.subject(e, ev, level), Body: p.body(e, ev, near), Due: ev.At}
}

// to addresses the message to channels, once to one that several persons share.
func (m Message) to(channels []string) (messages []Message) {
	for i, name := range channels {
		if slices.Contains(channels[:i], name) {
			continue
		}
		m.Channel = name
		messages = append(messages, m)
	}
	return messages
}

func channelsOf(messages []Message) (names []string) {
	for _, m := range messages {
		names = append(names, m.Channel)
	}
	return names
}

// reached are the persons whom at least one of the channels reaches.
func reached(persons []Person, channels []string) (found []Person) {
	for _, q := range persons {
		if len(q.own(channels)) > 0 {
			found = append(found, q)
		}
	}
	return found
}
