package record

import (
	"fmt"
	"strings"

	"flitch/process"
)

// A LeftOut is how many readings of one probe did not count, or are in doubt, for one
// reason. They are kept, and are bad or suspect in the table of readings.
type LeftOut struct {
	Probe     string            `json:"probe"`
	Placement process.Placement `json:"placement"`
	process.Flagged
}

// reasons are the reasons of process.Flagged in words.
var reasons = map[string]string{
	"missing":       "no number",
	"sentinel":      "a code of the sensor, no measurement",
	"range":         "outside what the probe can measure there",
	"unit":          "as in another unit, and nobody has said which",
	"spike":         "alone between its neighbours",
	"rate":          "changed faster than that can",
	"flat":          "stood still",
	"pair drift":    "drifting apart from its pair: counted, and in doubt",
	"above the air": "hotter than the air that heats it, or than water boils",
	"dry sock":      "dry sock: as the air beside it",
	"out of use":    "the probe failed its check and is out of use",
}

// Reason is why readings were left out, in words.
func Reason(f process.Flagged) string {
	if words, ok := reasons[f.Reason]; ok {
		return words
	}
	return f.Reason
}

// InDoubt reports readings that were counted all the same.
func InDoubt(reason string) bool { return reason == "pair drift" }

// LeftOut is a line about it: "3 left out, alone between its neighbours: 11:00, 11:40".
func (s Site) LeftOut(f process.Flagged) string {
	what := "left out"
	if InDoubt(f.Reason) {
		what = "in doubt"
	}
	if f.Count > 0 {
		what = fmt.Sprintf("%d %s", f.Count, what)
	}
	return what + ", " + Reason(f) + ": " + s.Times(f)
}

// maxTold is how many times are told of one reason; the table of readings has all.
const maxTold = 4

// Times are when readings were left out: "11:00 to 11:03, 11:40, and 5 more times".
func (s Site) Times(f process.Flagged) string {
	var parts []string
	for i, span := range f.Spans {
		if i == maxTold {
			break
		}
		part := s.Short(span.From)
		if to := s.Short(span.To); to != part {
			part += " to " + to
		}
		parts = append(parts, part)
	}
	if more := int64(len(f.Spans)-len(parts)) + f.More; more > 0 {
		parts = append(parts, fmt.Sprintf("and %d more times, the last %s", more, s.Short(f.Last)))
	}
	return strings.Join(parts, ", ")
}
