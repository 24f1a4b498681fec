package app

import (
	"slices"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/killpoint"
	"flitch/ingest/mqtt/mqtttest"
)

// Control: a gateway that acknowledges before the reading is committed loses it, and the
// harness says so.
func TestTheTaleFindsAnEarlyAcknowledgement(t *testing.T) {
	findsBroken(t, nil, "was acknowledged and stands 0 times", func(seen []string) int {
		return slices.Index(seen, "row in readings")
	}, func(s *tale) { s.early = true })
}

// Control: behind mosquitto an acknowledgement before the commit loses a reading that no sensor
// sends again, and the harness says so.
func TestTheTaleBehindMosquittoFindsAnEarlyAcknowledgement(t *testing.T) {
	findsBroken(t, mqtttest.StartMosquitto(t), "was acknowledged and stands 0 times", func(seen []string) int {
		return slices.Index(seen, "row in readings")
	}, func(s *tale) { s.away.hasten() })
}

// Control: when "sent" is stored before a message has gone, a kill loses the message, and the
// harness says so. A relay that answers first makes it so.
func TestTheTaleFindsWhatIsStoredAsSentAndWasNot(t *testing.T) {
	findsBroken(t, nil, "came 0 times", func(seen []string) int {
		at := slices.Index(seen, "the phone has a message, and has not answered")
		at += slices.Index(seen[at:], "row in attempts")
		return at + slices.Index(seen[at:], "sync flitch.db-wal") // written, as far as a kill can tell
	}, func(s *tale) { s.phone.hasty = true })
}

// findsBroken tells the tale with a promise broken and a kill at a point, and near it because
// two tales are not alike to the last point, until the harness finds the fault.
func findsBroken(t *testing.T, broker *mqtttest.Mosquitto, want string, where func(seen []string) int, breaks func(*tale)) {
	t.Helper()
	count := killpoint.NewCount(0)
	whole := newTale(t, count, broker)
	breaks(whole)
	whole.tell(whole.whole())
	if _, faults := whole.examine(); len(faults) > 0 {
		t.Fatalf("without a kill nobody can tell: %s", strings.Join(faults, "\n"))
	}
	at := where(count.Seen()) + 1
	if at < 10 {
		t.Fatalf("no such point in\n%s", points(count.Seen()))
	}
	for i := range 60 { // 0, -1, 1, -2, 2 ...
		off := (i + 1) / 2 * (1 - i%2*2)
		s := newTale(t, killpoint.NewCount(at+off), broker)
		breaks(s)
		s.tell(s.whole())
		if _, faults := s.examine(); strings.Contains(strings.Join(faults, "\n"), want) {
			t.Logf("found with a kill before %q", s.count.Killed())
			return
		}
	}
	t.Errorf("killed around point %d, and nobody said %q", at, want)
}
