package app

import (
	"net/http"
	"slices"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
)

// A channel is taken out of the configuration while a ring waits for it: that goes through another, if
// it is not a day old, and nothing waits for ever.
func TestWhatWaitsForAChannelThatIsGone(t *testing.T) {
	for _, after := range []time.Duration{5 * minute, 30 * time.Hour} {
		s := newShop(t)
		s.open()
		s.begin(raw)
		s.phone.answer(http.StatusServiceUnavailable)
		s.every(minute, 0, 21*minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
		s.close()
		other := newTestPhone()
		t.Cleanup(other.server.Close)
		s.cfg.Channels = []config.Channel{{Name: "other", Kind: "http", Level: "tell", Deadline: 5 * time.Second,
			Text: map[string]string{"url": other.server.URL}, Secrets: map[string]config.Secret{}}}
		s.clock.Step(dawn.Add(21*minute + after))
		s.open()
		s.settle()
		if heard := other.heard(); slices.Contains(heard, "C2 raised ring") != (after < strandedFor) {
			t.Errorf("after %v the other phone heard %q", after, heard)
		}
		if left, err := s.app.db.Stranded([]string{"other"}); err != nil || len(left) > 0 {
			t.Errorf("after %v there wait %+v, %v", after, left, err)
		}
		if err := s.app.db.VerifyJournal(); err != nil {
			t.Error(err)
		}
	}
}
