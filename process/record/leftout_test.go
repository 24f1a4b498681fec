package record

import (
	"strings"
	"testing"
	"time"

	"flitch/ingest/signal"
	"flitch/process"
)

func TestEveryFaultHasItsWords(t *testing.T) {
	for _, f := range signal.Faults() {
		if words := Reason(process.Flagged{Reason: f.String()}); words == f.String() {
			t.Errorf("%s has no words", f)
		}
	}
}

func TestLeftOutInWords(t *testing.T) {
	s := Site{Zone: time.UTC}
	f := process.Flagged{Reason: "range", Count: 12, Last: time.Date(2031, 4, 8, 9, 0, 0, 0, time.UTC)}
	for i := range 6 {
		from := time.Date(2031, 4, 7, 9+i, 0, 0, 0, time.UTC)
		f.Spans = append(f.Spans, process.Gap{From: from, To: from.Add(time.Duration(i) * time.Minute)})
	}
	got := s.LeftOut(f)
	for _, want := range []string{"12 left out, outside what the probe can measure there: 7 Apr 09:00 UTC, 7 Apr 10:00 UTC to 7 Apr 10:01 UTC, ", "and 2 more times, the last 8 Apr 09:00 UTC"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
	if got := s.LeftOut(process.Flagged{Reason: "pair drift", Spans: f.Spans[:1]}); !strings.HasPrefix(got, "in doubt, ") {
		t.Error(got)
	}
}
