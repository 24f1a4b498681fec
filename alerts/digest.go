package alerts

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Digest is the kind of a message that stands for several.
const Digest EventKind = "digest"

// A person who is sent more than floodCount messages within floodWindow gets the
// rest as one. Proposal.
const (
	floodCount  = 10
	floodWindow = 10 * time.Minute
)

// digestLines is the most that is read on a phone in the morning.
const digestLines = 5

// Waiting is what a person will read in one message.
type Waiting struct {
	Until  time.Time    `json:"until"`
	Flood  bool         `json:"flood,omitempty"` // because there were too many, not because it was night
	Alarms []Occurrence `json:"alarms"`          // by number, as they stand now
}

// mayWait keeps what can wait for a person until the end of their quiet hours, or
// until a flood is over. A ring never waits.
func (s *People) mayWait(p Policy, q Person, level Level, ev Event) bool {
	if level >= Ring {
		s.drop(q.Initials, ev.Number) // heard of now
		return false
	}
	w, waits := s.Waiting[q.Initials]
	end, quiet := q.Quiet.End(ev.At, p.Location)
	switch {
	case quiet && (!waits || w.Until.Before(end)):
		w.Until, w.Flood = end, false
	case quiet || waits:
	case s.recent(q, ev.At) >= floodCount:
		w.Until, w.Flood = ev.At.Add(floodWindow), true
	default:
		return false
	}
	w.Alarms = append(w.Alarms, ev.Occurrence)
	slices.SortStableFunc(w.Alarms, func(a, b Occurrence) int { return cmp.Compare(a.Number, b.Number) })
	w.Alarms = slices.CompactFunc(w.Alarms, func(a, b Occurrence) bool { return a.Number == b.Number })
	if s.Waiting == nil {
		s.Waiting = map[string]Waiting{}
	}
	s.Waiting[q.Initials] = w
	return true
}

// follow keeps what waits as it stands now, and returns whom it waits for.
func (s *People) follow(o Occurrence) (waiting []string) {
	for initials, w := range s.Waiting {
		if i := slices.IndexFunc(w.Alarms, func(a Occurrence) bool { return a.Number == o.Number }); i >= 0 {
			w.Alarms[i] = o
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
	w.Alarms = slices.DeleteFunc(w.Alarms, func(a Occurrence) bool { return a.Number == number })
	s.Waiting[initials] = w
	if len(w.Alarms) == 0 {
		delete(s.Waiting, initials)
	}
}

// sent notes a message to a person.
func (s *People) sent(q Person, at time.Time) {
	if s.Sent == nil {
		s.Sent = map[string][]time.Time{}
	}
	kept := slices.DeleteFunc(s.Sent[q.Initials], func(t time.Time) bool { return at.Sub(t) >= floodWindow })
	kept = append(kept, at)
	s.Sent[q.Initials] = kept[max(0, len(kept)-floodCount):]
}

// recent is how many messages a person was sent in the last minutes.
func (s *People) recent(q Person, at time.Time) (n int) {
	for _, t := range s.Sent[q.Initials] {
		if at.Sub(t) < floodWindow {
			n++
		}
	}
	return n
}

// release sends what has waited long enough, one message to each person, in the
// order of the policy. Who is no longer in the configuration is told nothing.
func (s *People) release(p Policy, now time.Time, look func(int64) (Standing, bool)) (passed []Passing) {
	for _, q := range p.Persons {
		w, waits := s.Waiting[q.Initials]
		if !waits || now.Before(w.Until) {
			continue
		}
		if end, quiet := q.Quiet.End(now, p.Location); quiet { // a flood that ran into the night
			w.Until, w.Flood = end, false
			s.Waiting[q.Initials] = w
			continue
		}
		delete(s.Waiting, q.Initials)
		s.sent(q, now)
		m := p.digest(w, now)
		ways := q.own(p.takers(Tell))
		if len(ways) == 0 { // told of rings only, and now that one is over
			ways = q.own(p.takers(Ring))
		}
		done := Passing{Kind: "summary", Messages: m.to(ways), Text: fmt.Sprintf("to %s: %s", q.Initials, w.numbers())}
		for _, o := range w.Alarms {
			if st, standing := look(o.Number); standing {
				st.Alarm.tell(channelsOf(done.Messages))
			}
		}
		passed = append(passed, done)
	}
	for initials := range s.Waiting {
		if !p.Knows(initials) {
			delete(s.Waiting, initials)
		}
	}
	return passed
}

func (w Waiting) numbers() string {
	numbers := make([]string, len(w.Alarms))
	for i, o := range w.Alarms {
		numbers[i] = strconv.FormatInt(o.Number, 10)
	}
	return "alarms " + strings.Join(numbers, ", ")
}

// digest is one message of at most five lines: what stands comes first, the louder
// before the milder, then what is over.
func (p Policy) digest(w Waiting, now time.Time) Message {
	alarms := slices.Clone(w.Alarms)
	slices.SortStableFunc(alarms, func(a, b Occurrence) int {
		if a.Active != b.Active {
			if a.Active {
				return -1
			}
			return 1
		}
		return int(b.Level) - int(a.Level)
	})
	standing := 0
	var lines []string
	for _, o := range alarms {
		if o.Active {
			standing++
		}
		lines = append(lines, p.oneLine(o, now))
	}
	if len(lines) > digestLines {
		lines = append(lines[:digestLines-1], fmt.Sprintf("And %d more %s", len(alarms)-digestLines+1, p.list()))
	} else if len(lines) < digestLines && p.Link != "" {
		lines = append(lines, "All of it: "+p.list())
	}
	title := "The night"
	if w.Flood {
		title = "Many at once"
	}
	return Message{Kind: Digest, Level: Tell, Due: now, Body: strings.Join(lines, "\n"),
		Subject: fmt.Sprintf("%s: %s, %d standing", title, plural(len(alarms), "alarm"), standing)}
}

// list is where the alarms can be read.
func (p Policy) list() string {
	if p.Link == "" {
		return "on the page"
	}
	return strings.TrimSuffix(p.Link, "/") + "/alarms"
}

func plural(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// oneLine is an alarm in one line of a digest.
func (p Policy) oneLine(o Occurrence, now time.Time) string {
	line := fmt.Sprintf("%s, %s", o.Title, o.Subject)
	if o.Active {
		line += ": stands since " + p.clock(o.Since, now)
	} else {
		line += fmt.Sprintf(": over, %s to %s", p.clock(o.Since, now), p.clock(o.ClearedAt, now))
	}
	if o.Unit != "" {
		line += ", worst " + p.quantity(o.Unit, o.Worst)
	}
	if o.Active && o.AcknowledgedBy != "" {
		line += ", " + o.AcknowledgedBy + " is on it"
	}
	return line + fmt.Sprintf(" (%d)", o.Number)
}
