package decode

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// TimeFormat says how a payload writes its time.
type TimeFormat string

// The time formats. AutoTime takes any of the first three others as long as only one
// of them makes sense.
const (
	AutoTime  TimeFormat = ""
	RFC3339   TimeFormat = "rfc3339"
	Unix      TimeFormat = "unix"    // seconds since 1970, decimals allowed
	UnixMS    TimeFormat = "unix-ms" // milliseconds since 1970
	LocalTime TimeFormat = "local"   // 2031-05-02T21:14:00, on the clock of a named zone
)

// ParseTimeFormat accepts "", "rfc3339", "unix", "unix-ms" and "local".
func ParseTimeFormat(s string) (TimeFormat, error) {
	switch f := TimeFormat(s); f {
	case AutoTime, RFC3339, Unix, UnixMS, LocalTime:
		return f, nil
	}
	return AutoTime, fmt.Errorf("time format %q is not known: write rfc3339, unix, unix-ms or local", s)
}

// Seconds from 2001-09-09 to the year 5138 and milliseconds from 2001-09-09 on
// do not overlap; anything else could be either. Own bounds.
const (
	secondsFrom, secondsTo = 1e9, 1e11
	millisFrom, millisTo   = 1e12, 1e14
	lastMillis             = 253402300799999 // end of the year 9999, the last that RFC 3339 can write
)

// deviceTime reads a time out of what a path pointed at, in UTC and whole
// milliseconds. again is how much later a local time that comes twice comes again.
func deviceTime(v any, f TimeFormat, zone *time.Location) (at time.Time, again time.Duration, err error) {
	text, ok := plainText(v)
	_, flag := v.(bool)
	switch text = strings.TrimSpace(text); {
	case v == nil:
		err = errors.New("device time is null")
	case !ok || flag:
		err = errors.New("device time is neither text nor a number")
	case text == "":
		err = errors.New("device time is empty")
	case f == LocalTime:
		return local(text, zone)
	case f == RFC3339 || f == AutoTime && !decimal(text):
		at, err = written(text)
	default:
		at, err = counted(text, f)
	}
	return at, 0, err
}

// written parses RFC 3339. A time without a zone is refused: it could be local.
func written(text string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, text)
	if err == nil {
		return bounded(float64(t.UnixMilli()), text)
	}
	if _, ok := wall(text); ok {
		return time.Time{}, fmt.Errorf("device time %s has no zone", quoted(text))
	}
	return time.Time{}, fmt.Errorf("device time %s cannot be read", quoted(text))
}

// counted parses seconds or milliseconds since 1970.
func counted(text string, f TimeFormat) (time.Time, error) {
	n, err := strconv.ParseFloat(text, 64)
	if err != nil || !decimal(text) {
		return time.Time{}, fmt.Errorf("device time %s cannot be read", quoted(text))
	}
	if f == AutoTime {
		switch {
		case n >= secondsFrom && n < secondsTo:
			f = Unix
		case n >= millisFrom && n < millisTo:
			f = UnixMS
		default:
			return time.Time{}, fmt.Errorf("device time %s could be seconds or milliseconds", quoted(text))
		}
	}
	if f == Unix {
		n *= 1000
	}
	return bounded(math.Round(n), text)
}

// bounded keeps times to what can be written down again.
func bounded(ms float64, text string) (time.Time, error) {
	if ms < 0 || ms > lastMillis {
		return time.Time{}, fmt.Errorf("device time %s is outside the years 1970 to 9999", quoted(text))
	}
	return time.UnixMilli(int64(ms)).UTC(), nil
}
