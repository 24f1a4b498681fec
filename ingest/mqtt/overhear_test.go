package mqtt_test

import (
	"testing"

	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// What nobody reads is heard too, copies that the broker had kept are marked, and a
// broken connection is made again.
func TestOverhear(t *testing.T) {
	broker := mqtttest.StartMosquitto(t)
	out, err := mqtt.NewPublisher(t.Context(), mqtt.Config{URL: "tcp://" + broker.Addr, ClientID: "board"})
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	up := make(chan bool, 10)
	a, err := mqtt.NewAnnouncer(mqtt.Config{URL: "tcp://" + broker.Addr, ClientID: "keeper"}, mqtt.Will{Topic: "w", Payload: "w"}, func() { up <- true })
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	<-up
	if err := a.Announce(t.Context(), "shed/kept", []byte("4.5"), true); err != nil {
		t.Fatal(err)
	}
	type message struct {
		topic, payload string
		retained       bool
	}
	w := newWire(t, broker.Addr)
	heard := make(chan message, 100)
	v, err := mqtt.Overhear(mqtt.Config{URL: "tcp://" + w.listener.Addr().String(), ClientID: "house-ear"}, []string{"#"},
		func(topic string, payload []byte, retained bool) { heard <- message{topic, string(payload), retained} })
	if err != nil {
		t.Fatal(err)
	}
	defer v.Close()
	want := func(m message) {
		t.Helper()
		if got := <-heard; got != m {
			t.Fatalf("heard %+v, want %+v", got, m)
		}
	}
	kept := message{"shed/kept", "4.5", true}
	want(kept)
	say := func() {
		t.Helper()
		if err := out.PublishWait(t.Context(), "shed/box", []byte(`{"t2":61.4}`), 1); err != nil {
			t.Fatal(err)
		}
		want(message{"shed/box", `{"t2":61.4}`, false})
	}
	say()
	w.cut()
	want(kept) // connected again: the broker hands out its copy
	say()
	if _, err := mqtt.Overhear(mqtt.Config{URL: "tcp://x:1", ClientID: "x"}, nil, nil); err == nil {
		t.Error("nothing to listen to is refused")
	}
}
