package alerts

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// subject is the first line on a locked phone: how loud, what, where. A lock screen
// shows 40 to 50 characters of it.
func (p Policy) subject(e Entry, ev Event, level Level) string {
	line := e.Title + ": " + where(ev.Subject)
	switch ev.Kind {
	case Worsened:
		line = "Worse: " + line
	case Repeated:
		line = "Still: " + line
	case ReAlarmed:
		line = "Again: " + line
	case Cleared:
		if e.Prompt {
			return "Done: " + line
		}
		return "Over: " + line
	}
	if level == Ring {
		return "RING " + line
	}
	return line
}

// where is what an alarm is about without the words that its title has already: "probe
// core-1 of batch OL-31-04" is core-1, OL-31-04. The last line has it in full.
func where(subject string) string {
	parts := strings.Split(subject, " of ")
	for i, part := range parts {
		if kind, name, ok := strings.Cut(part, " "); ok && strings.Contains(" batch fridge smoker freezer room probe probes piece ", " "+kind+" ") {
			parts[i] = name
		}
	}
	return strings.Join(parts, ", ")
}

// body is the second line and the rest: value against limit, since when, what to
// do first, when it asks again, number and link.
func (p Policy) body(e Entry, ev Event, near Surroundings) string {
	lines := []string{p.says(e, ev, near.Now)}
	if ev.Kind == Cleared {
		lines[0] = p.over(e, ev, near.Now)
	}
	lines = append(lines, near.Details...)
	if ev.Kind != Cleared {
		lines = append(lines, "Do first: "+ev.Action, p.again(e, ev))
	}
	return strings.Join(append(lines, p.number(ev)), "\n")
}

// says is what was measured, the value against its limit, and since when.
func (p Policy) says(e Entry, ev Event, now string) string {
	line := p.fill(e, e.words(ev), ev)
	if ev.Summed > 0 {
		return Sentence(p.summed(e, ev) + "; " + line)
	}
	switch {
	case now == "":
		return Sentence(line + p.since(e, ev))
	case e.Elapsed: // how long it is matters more than what was measured
		return Sentence(line + p.since(e, ev) + "; " + now)
	}
	if ev.Blind && e.Unit != "" {
		line = "last judged " + line
	}
	return Sentence(now + ": " + line + p.since(e, ev))
}

// since is from when on it stands. Where the words tell how long already, only the time
// of the day is new.
func (p Policy) since(e Entry, ev Event) string {
	line, d := ", since "+p.clock(ev.Since, ev.At), ev.At.Sub(ev.Since)
	switch {
	case e.Elapsed:
		return line
	case e.Hour > 0: // it waited for its hour, and the words have the day
		return ""
	case d >= time.Minute:
		return line + " (" + span(d) + ")"
	case e.elapsed(1) > 0: // since just now: its value is a time that says more
		return ""
	}
	return line
}

// summed tells of an alarm that was raised by time in pieces how long they are together:
// the time since the first of them says nothing.
func (p Policy) summed(e Entry, ev Event) string {
	side := "above"
	if e.Triggers[0].Below {
		side = "below"
	}
	return fmt.Sprintf("%s %s %s in %s (first at %s)", span(ev.Summed), side, p.quantity(e.Unit, ev.Limit), span(ev.Window), p.clock(ev.Since, ev.At))
}

// words are what the entry, or its trigger that counts, says of a value.
func (e Entry) words(ev Event) string {
	switch {
	case e.never(ev.Value):
		return e.SaysNever
	case ev.Says != "":
		return ev.Says
	}
	return e.Says
}

func (e Entry) never(v float64) bool { return e.Never != 0 && v >= e.Never }

// over is how long it lasted and how bad it was. The off-delay is told, so that
// nobody wonders why the news is late.
func (p Policy) over(e Entry, ev Event, now string) string {
	line := fmt.Sprintf("Lasted %s, from %s to %s", span(ev.At.Sub(ev.Since)), p.clock(ev.Since, ev.At), p.clock(ev.At, ev.At))
	inside := ev.Reason == backInside
	if ev.Summed > 0 {
		line = fmt.Sprintf("%s; over at %s", p.summed(e, ev), p.clock(ev.At, ev.At))
	}
	if e.Unit != "" && !e.Elapsed && !e.Prompt && !e.never(ev.Worst) {
		line += "; worst " + p.worst(e.Unit, e.Worst, ev.Worst)
		if now == "" && inside {
			now = p.worst(e.Unit, e.Worst, ev.Value)
		}
	}
	if now != "" && inside {
		line += "; now " + now
	}
	switch {
	case inside && e.Clear.For > 0:
		return line + "; none of it for " + span(e.Clear.For) + " or more."
	case inside, e.Elapsed && ev.Reason == noMore: // a door that was shut
		return Sentence(line)
	}
	return Sentence(line + "; " + ev.Reason)
}

// worst is a value with the words that keep a difference from being read as a
// temperature.
func (p Policy) worst(unit, words string, v float64) string {
	if words == "" {
		words = "{value}"
	}
	return strings.ReplaceAll(words, "{value}", p.quantity(unit, v))
}

// again says when the same question comes next.
func (p Policy) again(e Entry, ev Event) string {
	if ev.Again.IsZero() {
		return "Does not ask again."
	}
	return "Asks again at " + p.clock(ev.Again, ev.At) + " unless somebody answers."
}

// number is what a person types, and where more can be read.
func (p Policy) number(ev Event) string {
	line := fmt.Sprintf("Alarm %d (%s), %s", ev.Number, ev.Entry, ev.Subject)
	if p.Link == "" {
		return line
	}
	return line + " " + strings.TrimSuffix(p.Link, "/") + "/alarms/" + strconv.FormatInt(ev.Number, 10)
}

func upperFirst(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if first == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// Sentence begins with a capital letter and ends with one full stop, after initials too.
func Sentence(s string) string {
	s = upperFirst(s)
	if strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}
