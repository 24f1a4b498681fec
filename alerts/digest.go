package alerts

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Digest is the kind of a message that stands for several.
const Digest EventKind = "digest"

// digestLines is the most that is read on a phone in the morning.
const digestLines = 5

// release sends what has waited long enough, one message to each person, in the
// order of the policy. Who is no longer in the configuration is told nothing.
func (s *People) release(p Policy, now time.Time, look func(int64) (Standing, bool)) (passed []Passing) {
	for _, q := range p.Persons {
		w, waits := s.Waiting[q.Initials]
		if !waits || now.Before(w.Until) {
			continue
		}
		if end, quiet := q.Quiet.End(now, p.Location); quiet { // a flood that ran into the night
			w.Until, w.Cause = end, Night
			s.Waiting[q.Initials] = w
			continue
		}
		delete(s.Waiting, q.Initials)
		s.sent(q, Sending{At: now})
		m := p.digest(w, now)
		ways := q.own(p.takers(Tell))
		if len(ways) == 0 { // told of rings only, and now that one is over
			ways = q.own(p.takers(Ring))
		}
		done := Passing{Kind: "summary", Messages: m.unsaid(ways, passed), Text: fmt.Sprintf("to %s: %s", q.Initials, w.numbers())}
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

// unsaid addresses the message to those of the channels that are not told the same
// already: persons may share one.
func (m Message) unsaid(channels []string, passed []Passing) (messages []Message) {
	for _, next := range m.to(channels) {
		said := slices.ContainsFunc(passed, func(p Passing) bool { return slices.Contains(p.Messages, next) })
		if !said {
			messages = append(messages, next)
		}
	}
	return messages
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
	slices.SortStableFunc(alarms, func(a, b Waited) int {
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
	return Message{Kind: Digest, Level: Tell, Due: now, Body: strings.Join(lines, "\n"),
		Subject: fmt.Sprintf("%s: %s waited, %s", w.Cause.title(), plural(len(alarms), "alarm"), stand(standing))}
}

func stand(n int) string {
	switch n {
	case 0:
		return "none stands now"
	case 1:
		return "1 stands now"
	}
	return fmt.Sprintf("%d stand now", n)
}

func (c Cause) title() string {
	switch c {
	case Flood:
		return "Many at once"
	case Chatter:
		return "Again and again"
	}
	return "The night"
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

// beyondMeasure is what no measure comes to by itself: values from there on stand for
// "never" or "failed", as Entry.Never says.
const beyondMeasure = 1440

// oneLine is an alarm in one line of a digest.
func (p Policy) oneLine(o Waited, now time.Time) string {
	line := fmt.Sprintf("%s, %s", o.Title, where(o.Subject))
	if o.Times > 1 {
		line += fmt.Sprintf(": %d times since %s, the last", o.Times, p.clock(o.First, now))
	} else {
		line += ":"
	}
	if o.Active {
		line += " stands since " + p.clock(o.Since, now)
	} else {
		line += fmt.Sprintf(" over, %s to %s", p.clock(o.Since, now), p.clock(o.ClearedAt, now))
	}
	if o.Unit != "" && o.Worst < beyondMeasure && !o.Plain {
		line += ", worst " + p.worst(o.Unit, o.Words, o.Worst)
	}
	if o.Active && o.AcknowledgedBy != "" {
		line += ", " + o.AcknowledgedBy + " is on it"
	}
	return line + fmt.Sprintf(" (%d)", o.Number)
}
