package push

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"flitch/alerts"
)

// transient reports whether an HTTP status may be another one next time: too
// slow, too many, or trouble on their side.
func transient(status int) bool {
	return status == http.StatusRequestTimeout || status == http.StatusTooManyRequests || status >= 500
}

// refused describes an answer that is not a success, with the start of its body.
func refused(resp *http.Response) *alerts.SendError {
	start, _ := io.ReadAll(io.LimitReader(resp.Body, 2*longestText)) // what there is of it is enough
	if len(start) == 2*longestText {                                 // half a word may be half a secret, which nobody would find
		start = start[:bytes.LastIndexAny(start, " \r\n\t")+1]
	}
	text := "answered " + statusText(resp.StatusCode)
	if len(start) > 0 {
		text += ": " + string(start)
	}
	return &alerts.SendError{
		Retry: transient(resp.StatusCode),
		After: max(retryAfter(resp.Header.Get("Retry-After"), resp.Header.Get("Date")), askedWait(text)),
		Text:  text,
	}
}

// retryAfterField is where some services say how long to wait, in seconds with
// or without a fraction, or in milliseconds (Telegram Bot API, ResponseParameters;
// Discord, Rate Limits; Matrix Client-Server API, M_LIMIT_EXCEEDED).
var retryAfterField = regexp.MustCompile(`"retry_after(_ms)?": ?([0-9]{1,9}(?:\.[0-9]{1,9})?)`)

func askedWait(answer string) time.Duration {
	found := retryAfterField.FindStringSubmatch(answer)
	if found == nil {
		return 0
	}
	unit := time.Second
	if found[1] != "" {
		unit = time.Millisecond
	}
	number, _ := strconv.ParseFloat(found[2], 64) // a number, by the pattern
	return time.Duration(min(number*float64(unit), float64(24*time.Hour)))
}

func statusText(status int) string {
	return strings.TrimSpace(fmt.Sprintf("%d %s", status, http.StatusText(status)))
}

// retryAfter reads a Retry-After header: seconds, or a date that is compared
// with the answer's own Date, because our clock may be wrong. Zero if absent or
// not understood (RFC 9110, 10.2.3).
func retryAfter(value, date string) time.Duration {
	if seconds, err := strconv.Atoi(value); err == nil && seconds > 0 {
		return time.Duration(min(seconds, int(24*time.Hour/time.Second))) * time.Second
	}
	until, err := http.ParseTime(value)
	if err != nil {
		return 0
	}
	now, err := http.ParseTime(date)
	if err != nil {
		return 0
	}
	return max(0, until.Sub(now))
}
