package readout

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Years in which a batch can have been. A clock that was never set, or a slip of a
// digit, is no time; over three centuries a duration overflows.
const firstYear, lastYear = 1970, 2199

// Time reads RFC 3339.
func Time(text string) (time.Time, error) {
	at, err := time.Parse(time.RFC3339, text)
	if at = at.UTC(); err != nil || !believable(at) {
		return time.Time{}, fmt.Errorf("time %q: write 2031-04-07T12:00:00Z", text)
	}
	return at, nil
}

func believable(at time.Time) bool { return at.Year() >= firstYear && at.Year() <= lastYear }

// A Clock reads the times of one file.
type Clock struct {
	format string // as the person wrote it
	layout string // Go's; empty: seconds or milliseconds since 1970
	scale  time.Duration
	zone   *time.Location // nil: the times say it themselves

	last  time.Time // the newest before
	twice int       // times in an hour that came twice
}

// Formats of a time that have a name; others are patterns.
const (
	RFC3339 = "rfc3339"
	Unix    = "unix"
	UnixMS  = "unix-ms"
)

// tokens of a pattern, and what Go calls them. Go takes one digit for two and a fraction
// after the seconds by itself.
var tokens = strings.NewReplacer("YYYY", "2006", "YY", "06", "MMM", "Jan", "MM", "1", "DD", "2", "hh", "15", "mm", "4", "ss", "5")

// NewClock makes a clock for times in a format: rfc3339, unix, unix-ms, or a pattern such
// as DD.MM.YYYY hh:mm:ss, with AM behind it for a clock of twelve hours. A pattern needs a
// zone; the named formats carry theirs. The error says what to write instead.
func NewClock(format string, zone *time.Location) (*Clock, error) {
	c := &Clock{format: format, zone: zone}
	switch format {
	case RFC3339:
		c.layout = time.RFC3339
	case Unix:
		c.scale = time.Second
	case UnixMS:
		c.scale = time.Millisecond
	default:
		for _, part := range []string{"YY", "MM", "DD", "hh", "mm"} {
			if !strings.Contains(format, part) {
				return nil, fmt.Errorf("time format %q has no %s: write rfc3339, unix, unix-ms or a pattern of YYYY MM DD hh mm ss, such as DD.MM.YYYY hh:mm:ss", format, part)
			}
		}
		if zone == nil {
			return nil, fmt.Errorf("times written as %s do not say their zone", format)
		}
		c.layout = tokens.Replace(format)
		if twelve := strings.Replace(c.layout, "AM", "PM", 1); twelve != c.layout {
			c.layout = strings.Replace(twelve, "15", "3", 1)
		}
		return c, nil
	}
	if zone != nil {
		return nil, fmt.Errorf("times written as %s say their zone themselves: leave the zone out", format)
	}
	return c, nil
}

// Read reads one time. Those of a file have to come in the order of its rows: only that
// tells apart the two hours of an autumn night.
func (c *Clock) Read(text string) (time.Time, error) {
	at, err := c.read(text)
	if err != nil {
		return time.Time{}, err
	}
	if at = at.UTC().Truncate(time.Millisecond); !believable(at) {
		return time.Time{}, fmt.Errorf("time %q is in the year %d: the clock of the logger was not set", text, at.Year())
	}
	if at.After(c.last) {
		c.last = at
	}
	return at, nil
}

func (c *Clock) read(text string) (time.Time, error) {
	if c.layout == "" {
		return c.number(text)
	}
	if c.zone == nil {
		at, err := time.Parse(c.layout, text)
		if err != nil {
			return at, fmt.Errorf("time %q is not written as %s", text, c.format)
		}
		return at, nil
	}
	at, err := time.ParseInLocation(c.layout, text, c.zone)
	if err != nil {
		return at, fmt.Errorf("time %q is not written as %s", text, c.format)
	}
	wall, _ := time.Parse(c.layout, text) // as it stands there
	if h, m := at.Hour(), at.Minute(); h != wall.Hour() || m != wall.Minute() {
		return at, fmt.Errorf("time %q: the clocks of %s went forward, there was no such time; if the logger's did not, name its zone by the offset: %s", text, c.zone, at.Add(-24*time.Hour).Format("-07:00"))
	}
	return c.ofTwo(at), nil
}

// number reads seconds or milliseconds since 1970.
func (c *Clock) number(text string) (time.Time, error) {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n > lastUnix*int64(time.Second/c.scale) || n < 0 {
		return time.Time{}, fmt.Errorf("time %q is not a number of %s since 1970", text, map[time.Duration]string{time.Second: "seconds", time.Millisecond: "milliseconds"}[c.scale])
	}
	if c.scale == time.Millisecond {
		return time.UnixMilli(n), nil
	}
	return time.Unix(n, 0), nil
}

// lastUnix is the end of the last year that is believed.
var lastUnix = time.Date(lastYear+1, 1, 1, 0, 0, 0, 0, time.UTC).Unix()

// ofTwo tells the repeated hour of the autumn night apart: the first of two moments, unless
// the file was past it.
func (c *Clock) ofTwo(at time.Time) time.Time {
	first, second := at, at
	for _, shift := range []time.Duration{-time.Hour, time.Hour} {
		if other := at.Add(shift); other.Format("15:04") == at.Format("15:04") {
			first, second = minTime(at, other), maxTime(at, other)
		}
	}
	if first.Equal(second) {
		return at
	}
	c.twice++
	if first.After(c.last) {
		return first
	}
	return second
}

// Twice is how many times were in an hour that came twice, and were told apart by the
// order of the rows.
func (c *Clock) Twice() int { return c.twice }

func minTime(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func maxTime(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
