package broker_test

import (
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
)

// At our own broker a device of Homie is followed too, and its last will, which nobody
// publishes, comes in like what it publishes.
func TestALastWillIsTakenIn(t *testing.T) {
	s, done, words := newShelf(t), newStored(), make(chan string, 100)
	const d = "homie/5/fridge/"
	maps := []ingest.Mapping{{Protocol: ingest.Homie, Topic: d + "bottle/temperature", Probe: process.PlacedProbe{Probe: "slow", Placement: process.Product}}}
	in := start(t, s, maps, ingest.Options{Observe: done, Said: func(w ingest.Said) { words <- w.Words }})
	b, err := broker.New(broker.Config{Listen: "127.0.0.1:0", FanOut: true}, in, wall{}, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	defer b.Close(t.Context())
	for topic, payload := range map[string]string{"$description": `{"nodes":{"bottle":{"properties":{"temperature":{"unit":"°C"}}}}}`, "$state": "ready"} {
		if err := mqtttest.Pub(t, b.Addr(), d+topic, payload, 1, "-r"); err != nil {
			t.Fatal(err)
		}
	}
	device := mqtttest.StartDevice(t, b.Addr(), d+"bottle/temperature", d+"$state", "lost")
	device.Say("3.5")
	done.Wait(t, 1, 0) // kept for others, and still fresh: it was published now
	device.Die()
	deadline := time.After(patience)
	for said := ""; said != "its connection broke (Homie $state lost)"; {
		select {
		case said = <-words:
		case <-deadline:
			t.Fatal("the will is not heard")
		}
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got := s.Values(t, "slow"); len(got) != 1 || got[0] != 3.5 {
		t.Errorf("stored %v", got)
	}
}
