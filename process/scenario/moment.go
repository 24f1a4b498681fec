package scenario

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

const (
	day     = 24 * time.Hour
	longest = 400 // days of a scenario
)

// A clock runs straight through from the beginning.
type clock struct{ begins time.Time }

// ofDay is the time of day of a moment.
func (c clock) ofDay(since time.Duration) time.Duration {
	return c.fromMidnight(since) % day
}

// fromMidnight is the time since the midnight before the beginning.
func (c clock) fromMidnight(since time.Duration) time.Duration {
	h, m, s := c.begins.Clock()
	return since + time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
}

const momentExample = "02:10, or 3/02:10 on the third day"

// moment reads a time. One without a day is the first after the beginning, or the
// beginning itself.
func (c clock) moment(text string) (time.Duration, error) { return c.read(text, -1) }

// until reads the end of something that began. One without a day is the next time
// the clock shows it.
func (c clock) until(text string, from time.Duration) (time.Duration, error) {
	to, err := c.read(text, from)
	if err == nil && to <= from {
		err = wrong("a later time", "%s is not after %s", text, c.text(from))
	}
	return to, err
}

func (c clock) read(text string, after time.Duration) (time.Duration, error) {
	dayText, rest, dated := strings.Cut(text, "/")
	if !dated {
		rest = text
	}
	ofDay, err := timeOfDay(rest)
	if err != nil {
		return 0, wrong(momentExample, "%q is not a time", text)
	}
	if dated {
		n, err := strconv.Atoi(dayText)
		if err != nil || n < 1 || n > longest || dayText[0] == '+' || dayText[0] == '0' {
			return 0, wrong(momentExample, "%q is not a day from 1 to %d", dayText, longest)
		}
		at := time.Duration(n-1)*day + ofDay - c.fromMidnight(0)
		if at < 0 {
			return 0, wrong("a later time", "%s is before the beginning", text)
		}
		return at, nil
	}
	ahead := ofDay - c.ofDay(max(after, 0))
	if ahead < 0 || after >= 0 && ahead == 0 {
		ahead += day
	}
	return max(after, 0) + ahead, nil
}

func timeOfDay(text string) (time.Duration, error) {
	for _, form := range []string{"15:04", "15:04:05"} {
		if at, err := time.Parse(form, text); err == nil && len(text) == len(form) {
			return time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute + time.Duration(at.Second())*time.Second, nil
		}
	}
	return 0, fmt.Errorf("%q is not a time of day", text)
}

// text writes a moment.
func (c clock) text(since time.Duration) string { return c.write(since, since < day) }

// untilText writes the end of something.
func (c clock) untilText(to, from time.Duration) string { return c.write(to, to-from <= day) }

func (c clock) write(since time.Duration, plain bool) string {
	ofDay := c.ofDay(since)
	text := fmt.Sprintf("%02d:%02d", int(ofDay.Hours()), int(ofDay.Minutes())%60)
	if s := int(ofDay.Seconds()) % 60; s != 0 {
		text += fmt.Sprintf(":%02d", s)
	}
	if plain {
		return text
	}
	return strconv.Itoa(int(c.fromMidnight(since)/day)+1) + "/" + text
}

// span reads how long: 90s, 1m, 5h20m, 2d.
func span(text, example string) (time.Duration, error) {
	days, rest, dayed := strings.Cut(text, "d")
	if !dayed {
		days, rest = "0", text
	}
	n, err := strconv.Atoi(days)
	d := time.Duration(0)
	if err == nil && rest != "" {
		d, err = time.ParseDuration(rest)
	}
	if err != nil || n < 0 || n > longest || d < 0 || d > longest*day || text[0] == '+' {
		return 0, wrong(example, "%q is not a length of time", text)
	}
	if d += time.Duration(n) * day; d < time.Second || d%time.Second != 0 {
		return 0, wrong(example, "%q: whole seconds, one at least", text)
	}
	return d, nil
}

func spanText(d time.Duration) string {
	var b strings.Builder
	for _, part := range []struct {
		of   time.Duration
		unit string
	}{{day, "d"}, {time.Hour, "h"}, {time.Minute, "m"}, {time.Second, "s"}} {
		if n := d / part.of; n > 0 {
			fmt.Fprintf(&b, "%d%s", n, part.unit)
			d -= n * part.of
		}
	}
	return b.String()
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// isNumber reads a number with a decimal point and nothing else.
func isNumber(text string) (float64, bool) {
	if strings.Trim(text, "+-.0123456789") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v + 0, err == nil && !math.IsInf(v, 0) && math.Abs(v) < 1e7
}
