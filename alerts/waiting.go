package alerts

import (
	"cmp"
	"slices"
	"time"
)

// A person who is sent more than floodCount messages within floodWindow gets the
// rest as one; so does one who was told of an alarm chatterCount times within
// chatterWindow, when it comes again, and until it has neither come nor gone for
// chatterWindow. All proposals: ISA-18.2 speaks of chatter from
// three times a minute, which no door and no fridge does.
const (
	floodCount    = 10
	floodWindow   = 10 * time.Minute
	chatterCount  = 3
	chatterWindow = time.Hour
	sendingsKept  = 64 // of a person: with a message every minute, those of an hour
)

// A Cause is why messages wait for a person.
type Cause string

// The causes of waiting.
const (
	Night   Cause = "night"
	Flood   Cause = "flood"
	Chatter Cause = "chatter"
)

// Waiting is what a person will read in one message.
type Waiting struct {
	Until  time.Time `json:"until"`
	Cause  Cause     `json:"cause"`
	Alarms []Waited  `json:"alarms"` // by number, as they stand now
}

// A Waited alarm may have come and gone several times; the last of them is kept.
type Waited struct {
	Occurrence
	Times int       `json:"times"`
	First time.Time `json:"first"`           // since when the first of them stood
	Words string    `json:"words,omitempty"` // Entry.Worst, or empty
	Plain bool      `json:"plain,omitempty"` // its worst value tells no more than its times
}

// A Sending is a message that a person was sent.
type Sending struct {
	At    time.Time `json:"at"`
	Raise string    `json:"raise,omitempty"` // of which alarm, when it told that it came
	Alarm int64     `json:"alarm,omitempty"` // its number; zero: a summary
}

func alarmOf(o Occurrence) string { return o.Entry + "|" + o.Subject }

// mayWait keeps what can wait for a person until the end of their quiet hours, or
// until a flood or a chatter is over. A ring never waits.
func (s *People) mayWait(p Policy, q Person, level Level, e Entry, ev Event) bool {
	if level >= Ring {
		s.drop(q.Initials, ev.Number) // heard of now
		return false
	}
	w, waits := s.Waiting[q.Initials]
	end, quiet := q.Quiet.End(ev.At, p.Location)
	chatters := s.chatters(q, ev)
	switch {
	case quiet && (!waits || w.Until.Before(end)):
		w.Until, w.Cause = end, Night
	case quiet || waits:
	case s.recent(q, ev.At) >= floodCount:
		w.Until, w.Cause = ev.At.Add(floodWindow), Flood
	case chatters:
		w.Until, w.Cause = ev.At.Add(chatterWindow), Chatter
	default:
		return false
	}
	w.add(Waited{Occurrence: ev.Occurrence, Words: e.Worst, Plain: e.Elapsed || e.Prompt})
	if s.Waiting == nil {
		s.Waiting = map[string]Waiting{}
	}
	s.Waiting[q.Initials] = w
	return true
}

// add takes an occurrence once. One that is over makes room for the next of the same
// alarm, and is only counted.
func (w *Waiting) add(next Waited) {
	o := next.Occurrence
	next.Times, next.First = 1, o.Since
	for i, a := range w.Alarms {
		switch {
		case a.Number == o.Number:
			return
		case alarmOf(a.Occurrence) == alarmOf(o):
			next.Times, next.First = a.Times+1, a.First
			w.Alarms = slices.Delete(w.Alarms, i, i+1)
		default:
			continue
		}
		break
	}
	w.Alarms = append(w.Alarms, next)
	slices.SortStableFunc(w.Alarms, func(a, b Waited) int { return cmp.Compare(a.Number, b.Number) })
}

// follow keeps what waits as it stands now, and returns whom it waits for.
func (s *People) follow(o Occurrence) (waiting []string) {
	for initials, w := range s.Waiting {
		if i := slices.IndexFunc(w.Alarms, func(a Waited) bool { return a.Number == o.Number }); i >= 0 {
			w.Alarms[i].Occurrence = o
			waiting = append(waiting, initials)
		}
	}
	slices.Sort(waiting)
	return waiting
}

func (s *People) drop(initials string, number int64) {
	w, waits := s.Waiting[initials]
	if !waits {
		return
	}
	w.Alarms = slices.DeleteFunc(w.Alarms, func(a Waited) bool { return a.Number == number })
	s.Waiting[initials] = w
	if len(w.Alarms) == 0 {
		delete(s.Waiting, initials)
	}
}

// sent notes a message to a person.
func (s *People) sent(q Person, m Sending) {
	at := m.At
	if s.Sent == nil {
		s.Sent = map[string][]Sending{}
	}
	kept := slices.DeleteFunc(s.Sent[q.Initials], func(m Sending) bool { return at.Sub(m.At) >= max(floodWindow, chatterWindow) })
	kept = append(kept, m)
	s.Sent[q.Initials] = kept[max(0, len(kept)-sendingsKept):]
}

// askedApart is the least time between two messages of one ring to one person that only
// ask again: a repeat and a call that goes on meet in one minute. Proposal.
const askedApart = time.Minute

// asked reports whether a person was told of an alarm less than askedApart ago.
func (s *People) asked(q Person, number int64, at time.Time) bool {
	return slices.ContainsFunc(s.Sent[q.Initials], func(m Sending) bool { return m.Alarm == number && at.Sub(m.At) < askedApart })
}

// recent is how many messages a person was sent in the last minutes.
func (s *People) recent(q Person, at time.Time) (n int) {
	for _, m := range s.Sent[q.Initials] {
		if at.Sub(m.At) < floodWindow {
			n++
		}
	}
	return n
}

// chatters reports whether an alarm that came or went has come again and again: often
// enough lately, or often enough before and not quiet for chatterWindow since.
func (s *People) chatters(q Person, ev Event) bool {
	if ev.Kind != Raised && ev.Kind != Cleared {
		return false
	}
	own := s.Chatter[q.Initials]
	for alarm, last := range own {
		if ev.At.Sub(last) >= chatterWindow {
			delete(own, alarm)
		}
	}
	alarm := alarmOf(ev.Occurrence)
	_, since := own[alarm]
	if !since && (ev.Kind != Raised || s.raises(q, ev) < chatterCount) {
		return false
	}
	if s.Chatter == nil {
		s.Chatter = map[string]map[string]time.Time{}
	}
	if own == nil {
		own = map[string]time.Time{}
		s.Chatter[q.Initials] = own
	}
	own[alarm] = ev.At
	return true
}

// raises is how often a person was told lately that this alarm has come.
func (s *People) raises(q Person, ev Event) (n int) {
	for _, m := range s.Sent[q.Initials] {
		if at := ev.At.Sub(m.At); at < chatterWindow && m.Raise == alarmOf(ev.Occurrence) {
			n++
		}
	}
	return n
}
