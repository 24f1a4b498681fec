package outbox

import (
	"testing"
	"testing/synctest"
	"time"

	"flitch/alerts"
)

// An attempt to which no answer came may have arrived: what is sent after it says so, also
// by a daemon that was started since. One that was refused, or never went out, has not.
func TestAnAttemptWithoutAnAnswerMayRepeat(t *testing.T) {
	for want, first := range map[string]*alerts.SendError{
		" (may repeat)": {Retry: true, Unknown: true, Text: "no answer within 10s"},
		"":              {Retry: true, Text: "answered 503 Service Unavailable"},
	} {
		synctest.Test(t, func(t *testing.T) {
			b, p := newBench(t), newPhone("pocket", first)
			b.start(p)
			b.enqueue(ring(5))
			b.pass(time.Second)
			if got := p.got(); len(got) != 1 || got[0].Subject != ring(5).Subject {
				t.Fatalf("the phone has %+v, want one without a note", got)
			}
			b.stop()
			b.close()
			b.stop = nil

			b.open() // as after a restart
			again := newPhone("pocket", &alerts.SendError{Retry: true, Text: "answered 503 Service Unavailable"}, nil)
			b.start(again)
			defer b.close()
			b.pass(time.Minute)
			got := again.got()
			if len(got) != 2 || got[0].Subject != ring(5).Subject+want || got[1].Subject != ring(5).Subject+want {
				t.Errorf("the phone has %+v, want twice the same alarm with %q behind it", got, want)
			}
		})
	}
}
