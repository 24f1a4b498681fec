package alerts

import (
	"strings"
	"time"
)

// TestRing is the kind of a message that tries out the way to a phone.
const TestRing EventKind = "test"

// A Policy says who is told what, and in which words.
type Policy struct {
	Channels   []ChannelPolicy
	Levels     map[string]Level // overrides an entry's level, by ID: H8 as tell
	Location   *time.Location   // zone of the times in messages; nil is UTC
	Fahrenheit bool             // °F in messages, else °C
	Link       string           // address of the page, "http://plover-shed.local:8080"; empty for none
	Persons    []Person         // in the order they are called; with none every channel is told of everything
}

// A ChannelPolicy says what one channel is for.
type ChannelPolicy struct {
	Name    string // as in Message.Channel
	Minimum Level  // quieter messages do not come this way
	Backup  bool   // used only when another channel has failed
}

// Surroundings is what the engine knows beside the event itself.
type Surroundings struct {
	// Explained reports whether the entry with this ID is active for the same
	// subject, or for its place. Nil explains nothing.
	Explained func(id string) bool
	Details   []string // further lines, such as the checks of a dose

	// Now is what was measured, in words, where the alarm is a yes or no or a
	// difference: "core 66.2 °C, target 66.0 °C". It is part of the second line.
	Now string
}

// level is how loudly ev is told under p.
func (p Policy) level(e Entry, ev Event) Level {
	if own, ok := p.Levels[e.ID]; ok {
		return min(own, ev.Level)
	}
	return ev.Level
}

// takers are the channels that a message of this level goes to.
func (p Policy) takers(level Level) (names []string) {
	for _, c := range p.Channels {
		if !c.Backup && level >= c.Minimum && level > Note {
			names = append(names, c.Name)
		}
	}
	return names
}

// Redirect returns m for the next way after the one that failed: a backup channel, in
// the order of the policy, else any other that takes the level. False when there is
// none left, or it is only a way that was tried out. why is told. used reports the
// channels that had the message already.
func (p Policy) Redirect(m Message, why string, used func(channel string) bool) (Message, bool) {
	if m.Kind == TestRing {
		return Message{}, false
	}
	m.Body += sentInstead(m.Channel) + why
	failed := m.Channel
	m.ID = 0
	for _, backup := range []bool{true, false} {
		for _, c := range p.Channels {
			if c.Backup == backup && c.Name != failed && m.Level >= c.Minimum && !used(c.Name) {
				m.Channel = c.Name
				return m, true
			}
		}
	}
	return Message{}, false
}

// sentInstead begins the line of a message that came another way.
func sentInstead(failed string) string { return "\nSent this way because " + failed + " failed: " }

// Replaces reports whether m is what Redirect made of a message that failed. It is known by
// its words, so that nothing beside the messages has to be kept of it.
func (m Message) Replaces(failed Message) bool {
	return strings.HasPrefix(m.Body, failed.Body+sentInstead(failed.Channel))
}

// phonePath begins what an alarm about a channel is about.
const phonePath = "phone path "

// others are the channels that may tell of a dead one: all ways but that. When it is
// the only one there is, it is tried all the same.
func (p Policy) others(subject string, level Level) (names []string, asked bool) {
	dead, about := strings.CutPrefix(subject, phonePath)
	if !about {
		return nil, false
	}
	dead, _, _ = strings.Cut(dead, "/")
	for _, c := range p.Channels {
		if c.Name != dead && level >= c.Minimum {
			names = append(names, c.Name)
		}
	}
	return names, len(names) > 0
}

// Test returns one message for every channel, backups too: a way that is not
// tried out is taken to be dead.
func (p Policy) Test(at time.Time) (messages []Message) {
	for _, c := range p.Channels {
		messages = append(messages, Message{
			Kind: TestRing, Level: Ring, Channel: c.Name, Due: at,
			Subject: "Test ring from flitch",
			Body:    "Nothing is wrong. This is how a ring would reach you, sent " + p.clock(at, at) + " through " + c.Name + ".",
		})
	}
	return messages
}
