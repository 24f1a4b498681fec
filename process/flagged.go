package process

import (
	"slices"
	"time"

	"flitch/ingest/signal"
)

// A Flagged is how many readings of a probe were left out, or are in doubt, for one
// reason, and when. The readings themselves are kept as they came.
type Flagged struct {
	Reason string    `json:"reason"` // see signal.Fault
	Count  int64     `json:"count"`
	Last   time.Time `json:"last"`            // the newest of them
	Spans  []Gap     `json:"spans,omitempty"` // the first maxSpans; both ends are readings
	More   int64     `json:"more,omitempty"`  // spans after them
	Open   bool      `json:"open,omitempty"`  // nothing believed came since Last
}

// maxSpans bounds how many spans of one reason are kept; the readings of the others
// are counted all the same.
const maxSpans = 30

// flag counts readings from one to another time, both included.
func flag(list []Flagged, fault signal.Fault, from, to time.Time, count int64) []Flagged {
	reason := fault.String()
	i := slices.IndexFunc(list, func(f Flagged) bool { return f.Reason == reason })
	if i < 0 {
		i = len(list)
		list = append(list, Flagged{Reason: reason})
	}
	f := &list[i]
	f.Count += count
	switch n := len(f.Spans); {
	case f.Open && to.Before(f.Last): // came late, and lies in the span
	case f.Open && f.More == 0:
		f.Spans[n-1].To = to
	case f.Open:
	case n < maxSpans:
		f.Spans = append(f.Spans, Gap{from, to})
	default:
		f.More++
	}
	if to.After(f.Last) {
		f.Last = to
	}
	f.Open = true
	return list
}

// believedNow ends the spans that are open: a reading in between was believed. One of a
// pair that drifts is believed, and in doubt all the same.
func believedNow(list []Flagged, drifts bool) {
	for i := range list {
		list[i].Open = list[i].Open && drifts && list[i].Reason == signal.PairDrift.String()
	}
}

// FlaggedAt is why a reading of that time was left out; empty when it was not, or when
// there were too many to keep their times.
func FlaggedAt(list []Flagged, at time.Time) string {
	for _, f := range list {
		for _, s := range f.Spans {
			if !at.Before(s.From) && !at.After(s.To) {
				return f.Reason
			}
		}
	}
	return ""
}
