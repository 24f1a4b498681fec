package record

import (
	"fmt"
	"math"
	"strings"
	"time"

	"flitch/process"
)

// Verdict says in words how a clock stands. A clock without a verdict is either
// running or has not started.
func Verdict(c process.Clock) string {
	switch {
	case c.Verdict != process.Running:
		return string(c.Verdict)
	case c.Running:
		return "running"
	case c.From.IsZero():
		return "not started"
	}
	return "stopped"
}

// Sum says in words how far a clock has come against its limit.
func Sum(c process.Clock) string {
	if c.Limit == 0 {
		return "no limit asked"
	}
	side := "at most"
	if c.AtLeast {
		side = "at least"
	}
	return fmt.Sprintf("%s of %s %s", Amount(c.Sum, c.Unit), side, Amount(c.Limit, c.Unit))
}

// beyondLog is how many decimal reductions are told by number: more was never counted
// in meat.
const beyondLog = 12

// Estimate writes a value with its interval: no more digits than it deserves.
func Estimate(e process.Estimate) string {
	if e.Unit == "log10" && e.Low > beyondLog {
		return fmt.Sprintf("over %d %s", beyondLog, e.Unit)
	}
	digits := 1
	if e.High < 2 && e.Unit != "log10" { // a part of one
		digits = 2
	}
	text := "about " + fixed(e.Value, digits)
	if e.Low != e.High {
		text += fmt.Sprintf(" (%s to %s)", fixed(e.Low, digits), fixed(e.High, digits))
	}
	return strings.TrimSpace(text + " " + e.Unit)
}

// Amount writes a sum in the unit of its clock: "3 h 40 min", "5.2 d", "12 min".
func Amount(v float64, unit string) string {
	switch unit {
	case "h":
		return hours(v)
	case "min":
		return fixed(v, 0) + " min"
	}
	return fixed(v, 1) + " " + unit
}

func hours(v float64) string {
	minutes := int64(math.Round(v * 60))
	if minutes%60 == 0 {
		return fmt.Sprintf("%d h", minutes/60)
	}
	if minutes > -60 && minutes < 60 {
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d h %02d min", minutes/60, abs(minutes%60))
}

// Span writes a duration the way people say it: "40 s", "12 min", "3 h 05 min",
// "2 d 4 h". It rounds down, so an age is never overstated.
func Span(d time.Duration) string {
	d = max(d, 0)
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", d/time.Second)
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", d/time.Minute)
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h %02d min", d/time.Hour, d%time.Hour/time.Minute)
	}
	return fmt.Sprintf("%d d %d h", d/(24*time.Hour), d%(24*time.Hour)/time.Hour)
}

func abs(n int64) int64 {
	if n < 0 {
		return -n
	}
	return n
}

// Percent writes a part of 0 to 1 in per cent.
func Percent(part float64) string { return fmt.Sprintf("%.4g %%", 100*part) }
