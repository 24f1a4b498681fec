package alerts

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// fixed is a temperature or a difference that the words themselves have: {5 °C}, {1 K}.
var fixed = regexp.MustCompile(`\{(-?[0-9.]+) (°C|K)\}`)

// The blanks in the words of an entry: {value} and {limit} in its unit, {past} the value
// with its sign turned, {lasted} how long it has stood, {day} the day on which the value
// will be used up, {was} that on which it was nothing yet, and a fixed temperature.
var blanks = []string{"{value}", "{limit}", "{past}", "{lasted}", "{day}", "{was}"}

// unfilled is what is left of the words without their blanks.
func unfilled(words string) string {
	for _, b := range blanks {
		words = strings.ReplaceAll(words, b, "")
	}
	return fixed.ReplaceAllString(words, "")
}

// fill puts an event into the blanks of an entry's words.
func (p Policy) fill(e Entry, words string, ev Event) string {
	line := strings.NewReplacer(
		"{value}", p.quantity(e.Unit, ev.Value),
		"{lasted}", span(ev.At.Sub(ev.Since)),
		"{limit}", p.quantity(e.Unit, ev.Limit),
		"{past}", p.quantity(e.Unit, -ev.Value),
		"{day}", p.day(ev.At.Add(e.elapsed(ev.Value)), ev.At),
		"{was}", p.day(ev.At.Add(-e.elapsed(ev.Value)), ev.At),
	).Replace(words)
	return fixed.ReplaceAllStringFunc(line, func(blank string) string {
		part := fixed.FindStringSubmatch(blank)
		v, _ := strconv.ParseFloat(part[1], 64)
		return p.quantity(part[2], v)
	})
}

// elapsed is a value of the entry as a time; zero where its unit is none.
func (e Entry) elapsed(v float64) time.Duration {
	unit := map[string]time.Duration{"min": time.Minute, "h": time.Hour, "d": 24 * time.Hour}[e.Unit]
	if longest := float64(math.MaxInt64) / 2; !(math.Abs(v)*float64(unit) < longest) {
		return 0
	}
	return time.Duration(v * float64(unit))
}

func (p Policy) zone() *time.Location {
	if p.Location == nil {
		return time.UTC
	}
	return p.Location
}

// Clock is a local time with its zone, with the day when that is not the day of now.
func (p Policy) Clock(t, now time.Time) string { return p.clock(t, now) }

func (p Policy) clock(t, now time.Time) string {
	t, now = t.In(p.zone()), now.In(p.zone())
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04 MST")
	}
	return t.Format("Mon 2 Jan 15:04 MST")
}

// day is a day as people say it on the day of now.
func (p Policy) day(t, now time.Time) string {
	midnight := func(t time.Time) time.Time {
		year, month, day := t.In(p.zone()).Date()
		return time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	}
	switch days := midnight(t).Sub(midnight(now)).Hours() / 24; {
	case days == 0:
		return "today"
	case days == 1:
		return "tomorrow"
	case days == -1:
		return "yesterday"
	}
	return "on " + t.In(p.zone()).Format("Mon 2 Jan")
}

// Temperature is °C in the unit of the messages.
func (p Policy) Temperature(c float64) string { return p.quantity("°C", c) }

// Difference is K in the unit of the messages.
func (p Policy) Difference(k float64) string { return p.quantity("K", k) }

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
	case unit == "d":
		return days(v)
	case unit != "":
		return decimal(v) + " " + unit
	}
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', -1, 64)
}

// decimal has one digit after the point and no minus before zero.
func decimal(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', 1, 64)
}

// days are whole ones from two on; less is told in hours.
func days(v float64) string {
	if math.Abs(v) < 2 {
		return span(time.Duration(v * 24 * float64(time.Hour)))
	}
	return fmt.Sprintf("%.0f days", v)
}

// span is a duration in hours and minutes, rounded to the minute; less than a
// minute is told in seconds, and two days or more in days and hours.
func span(d time.Duration) string {
	if d < 0 {
		return "-" + span(-max(d, -math.MaxInt64)) // the least has no opposite
	}
	if d < time.Minute {
		return strconv.Itoa(int(d.Round(time.Second).Seconds())) + " s"
	}
	minutes := int(d.Round(time.Minute).Minutes())
	h, m := minutes/60, minutes%60
	switch {
	case h >= 48 && h%24 == 0:
		return fmt.Sprintf("%d days", h/24)
	case h >= 48:
		return fmt.Sprintf("%d days %d h", h/24, h%24)
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}
