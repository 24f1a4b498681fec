package app

import (
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
	"flitch/process/engine"
)

// The outside broker is gone: that is an alarm of our own, and readings come in
// again when it is back.
func TestABrokerThatIsAwayIsTold(t *testing.T) {
	outside := mqtttest.StartMosquitto(t)
	s := newShop(t)
	s.cfg.Broker = config.Broker{Mode: config.External, URL: outside.URL(), ClientID: "flitch-test"}
	s.open()
	s.begin(raw)
	stored := func() bool {
		if err := mqtttest.Pub(t, outside.Addr, "shop/spare", "3.0", 1); err != nil {
			t.Fatal(err)
		}
		counts, err := s.app.db.CountReadings()
		return err == nil && counts > 0
	}
	if !s.until(stored) {
		t.Fatal("nothing comes in through mosquitto")
	}
	outside.Stop()
	away := func() bool {
		return slices.ContainsFunc(s.app.health(t.Context()), func(f api.Fault) bool { return f.Name == engine.FaultBroker })
	}
	if !s.until(away) {
		t.Fatal("the broker is gone and flitch says it is well")
	}
	s.every(minute, minute, 8*minute, func(time.Duration) {})
	s.wantHeard("B7 raised ring")
	outside.Start()
	if !s.until(func() bool { return !away() }) {
		t.Fatal("the broker is back and flitch does not see it")
	}
	s.every(minute, 9*minute, 14*minute, func(time.Duration) {})
	s.wantHeard("B7 cleared tell")
	before, err := s.app.db.CountReadings()
	if err != nil {
		t.Fatal(err)
	}
	if !s.until(func() bool { return stored() && count(t, s) > before }) {
		t.Error("nothing comes in after the broker is back")
	}
	// It keeps nothing on disk: it is back and does not know us.
	s.settle()
	lines, err := s.app.db.Journal("")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(lines, func(l process.JournalLine) bool { return l.Kind == "fault" && l.Text == brokerForgot }) {
		t.Error("the journal does not say that the broker forgot us")
	}
}

// A first reading may be stored before the news that we are subscribed has come through, on a
// machine that is busy: the broker has forgotten nobody. At the next start it would have.
func TestABrokerThatNeverKnewUsForgotNothing(t *testing.T) {
	outside := mqtttest.StartMosquitto(t)
	s := newShop(t)
	s.cfg.Broker = config.Broker{Mode: config.External, URL: outside.URL(), ClientID: "flitch-test"}
	lines := func(what string) (n int) {
		for _, line := range s.journal("fault") {
			if strings.Contains(line, what) {
				n++
			}
		}
		return n
	}
	told := func(after time.Duration) bool {
		s.at(after)
		if !s.until(s.app.brokerSeen.Load) {
			t.Fatal("flitch is not subscribed")
		}
		s.app.brokerSeen.Store(false)
		s.app.brokerUp(false)
		before := lines(brokerDropped)
		s.app.lostAtBroker(brokerDropped) // which is written after what was reported before
		if !s.until(func() bool { s.settle(); return lines(brokerDropped) > before }) {
			t.Fatalf("nothing is written: %q", s.journal("fault"))
		}
		return lines(brokerForgot) > 0
	}
	s.open()
	if !s.until(func() bool {
		return mqtttest.Pub(t, outside.Addr, "shop/spare", "3.0", 1) == nil && count(t, s) > 0
	}) {
		t.Fatal("nothing comes in through mosquitto")
	}
	if told(minute) {
		t.Error("a broker that never knew us is said to have forgotten us")
	}
	s.close()
	s.open()
	if !told(2 * minute) {
		t.Error("the control: readings of before the start, and no session, and nobody is told")
	}
}

func count(t *testing.T, s *shop) int64 {
	t.Helper()
	n, err := s.app.db.CountReadings()
	if err != nil {
		t.Fatal(err)
	}
	return n
}
