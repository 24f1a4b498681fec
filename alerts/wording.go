package alerts

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// subject is the first line on a locked phone: how loud, what, where.
func (p Policy) subject(e Entry, ev Event, level Level) string {
	line := e.Title + ": " + ev.Subject
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

// body is the second line and the rest: value against limit, since when, what to
// do first, when it asks again, number and link.
func (p Policy) body(e Entry, ev Event, details []string) string {
	lines := []string{p.says(e, ev)}
	if ev.Kind == Cleared {
		lines[0] = p.over(e, ev)
	}
	lines = append(lines, details...)
	if ev.Kind != Cleared {
		lines = append(lines, "Do first: "+ev.Action, p.again(e, ev))
	}
	return strings.Join(append(lines, p.number(ev)), "\n")
}

// says is the value against its limit, and since when.
func (p Policy) says(e Entry, ev Event) string {
	line := strings.NewReplacer(
		"{value}", p.quantity(e.Unit, ev.Value),
		"{limit}", p.quantity(e.Unit, ev.Limit),
		"{worst}", p.quantity(e.Unit, ev.Worst),
	).Replace(e.words(ev.Value))
	line = upperFirst(line) + ", since " + p.clock(ev.Since, ev.At)
	if d := ev.At.Sub(ev.Since); d >= time.Minute {
		line += " (" + span(d) + ")"
	}
	return line + "."
}

// words are what the entry says of a value.
func (e Entry) words(v float64) string {
	if e.never(v) {
		return e.SaysNever
	}
	return e.Says
}

func (e Entry) never(v float64) bool { return e.Never != 0 && v >= e.Never }

// over is how long it lasted and how bad it was. The off-delay is told, so that
// nobody wonders why the news is late.
func (p Policy) over(e Entry, ev Event) string {
	line := fmt.Sprintf("Lasted %s, from %s to %s", span(ev.At.Sub(ev.Since)), p.clock(ev.Since, ev.At), p.clock(ev.At, ev.At))
	if e.Unit != "" && !e.never(ev.Worst) {
		line += "; worst " + p.quantity(e.Unit, ev.Worst) + ", now " + p.quantity(e.Unit, ev.Value)
	}
	if ev.Reason == backInside && e.Clear.For > 0 {
		return line + "; inside its limit for " + span(e.Clear.For) + " or more."
	}
	return line + "; " + ev.Reason + "."
}

// again says when the same question comes next.
func (p Policy) again(e Entry, ev Event) string {
	if e.Repeat == 0 {
		return "Does not ask again."
	}
	return "Asks again at " + p.clock(ev.At.Add(e.Repeat), ev.At) + " unless somebody answers."
}

func (p Policy) number(ev Event) string {
	line := fmt.Sprintf("Alarm %d (%s)", ev.Number, ev.Entry)
	if p.Link == "" {
		return line
	}
	return line + " " + strings.TrimSuffix(p.Link, "/") + "/alarms/" + strconv.FormatInt(ev.Number, 10)
}

// clock is a local time with its zone, with the day when that is not today's.
func (p Policy) clock(t, now time.Time) string {
	zone := p.Location
	if zone == nil {
		zone = time.UTC
	}
	t, now = t.In(zone), now.In(zone)
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04 MST")
	}
	return t.Format("Mon 2 Jan 15:04 MST")
}

// quantity is a value with its unit. Differences in K are told as degrees: nobody
// in a smokehouse says kelvin.
func (p Policy) quantity(unit string, v float64) string {
	switch {
	case unit == "°C" && p.Fahrenheit:
		return decimal(v*1.8+32) + " °F"
	case unit == "K" && p.Fahrenheit:
		return decimal(v*1.8) + " °F"
	case unit == "°C" || unit == "K":
		return decimal(v) + " °C"
	case unit == "min":
		return span(time.Duration(v * float64(time.Minute)))
	case unit == "h":
		return span(time.Duration(v * float64(time.Hour)))
	}
	return decimal(v)
}

// decimal has one digit after the point and no minus before zero.
func decimal(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', 1, 64)
}

// span is a duration in hours and minutes, rounded to the minute; less than a
// minute is told in seconds.
func span(d time.Duration) string {
	if d < 0 {
		return "-" + span(-max(d, -math.MaxInt64)) // the least has no opposite
	}
	if d < time.Minute {
		return strconv.Itoa(int(d.Round(time.Second).Seconds())) + " s"
	}
	minutes := int(d.Round(time.Minute).Minutes())
	switch h, m := minutes/60, minutes%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
