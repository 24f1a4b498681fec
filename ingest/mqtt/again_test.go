package mqtt_test

import (
	"context"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// A forgetful intake takes messages and acknowledges none.
type forgetful chan string

func (f forgetful) Submit(_ context.Context, m ingest.Message) error {
	f <- string(m.Payload)
	return nil
}

func (forgetful) Reads(string) bool { return true }

// What was not acknowledged comes once more when the connection is made anew, and not before; the
// relay saw it pass twice and no acknowledgement.
func TestWhatWasNotAcknowledgedIsAskedForAgain(t *testing.T) {
	m := mqtttest.StartMosquitto(t)
	relay := mqtttest.NewRelay(t, m.Addr)
	in, n := make(forgetful, 10), make(news, 100)
	sub, err := mqtt.Subscribe(mqtt.Config{URL: "tcp://" + relay.Addr, ClientID: "flitch-oddwick"}, []string{"alder/slow"}, in, wall{}, n.events(), quietLog())
	if err != nil {
		t.Fatal(err)
	}
	defer sub.Close()
	n.expect(t, "up resumed=false")
	pub(t, m, "alder/slow", "3.5", 1)
	for round := range 2 {
		select {
		case got := <-in:
			if got != "3.5" {
				t.Errorf("got %q", got)
			}
		case <-time.After(patience):
			t.Fatalf("round %d: nothing came", round)
		}
		if round == 0 {
			sub.Again()
			n.expect(t, "up resumed=true")
		}
	}
	if relay.Passed() != 2 || relay.Subscribed() != 2 || relay.Acked("alder/slow", "3.5") != 0 {
		t.Errorf("passed %d, subscribed %d, acknowledged %d", relay.Passed(), relay.Subscribed(), relay.Acked("alder/slow", "3.5"))
	}
}
