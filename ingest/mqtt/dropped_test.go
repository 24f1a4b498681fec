package mqtt_test

import (
	"fmt"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// A broker whose queue ends at ten drops what is published while we are away, and the
// next connection hears of it.
func TestABrokerThatDropsIsTold(t *testing.T) {
	m := mqtttest.StartMosquitto(t, "max_queued_messages 10", "max_inflight_messages 1", "sys_interval 1")
	s := newShelf(t)
	for run := range 2 {
		dropped := make(chan int64, 10)
		up := make(chan bool, 10)
		in := start(t, s, mappings(), ingest.Options{})
		sub, err := mqtt.Subscribe(mqtt.Config{URL: m.URL(), ClientID: "flitch-oddwick"}, in.Topics(), in, wall{},
			mqtt.Events{Up: func(resumed bool) { up <- resumed }, Dropped: func(n int64) { dropped <- n }}, quietLog())
		if err != nil {
			t.Fatal(err)
		}
		if resumed := <-up; resumed != (run == 1) {
			t.Fatalf("run %d: resumed %t", run, resumed)
		}
		if run == 1 {
			select {
			case n := <-dropped:
				if n < 5 || n > 20 {
					t.Errorf("%d dropped, want about 20 less the queue of 10", n)
				}
			case <-time.After(patience):
				t.Error("the broker dropped messages and nobody was told")
			}
		}
		if err := in.Stop(); err != nil {
			t.Error(err)
		}
		sub.Close()
		if len(dropped) > 0 && run == 0 {
			t.Error("told of drops before there were any")
		}
		for i := range 20 {
			pub(t, m, "alder/slow", fmt.Sprint(i), 1)
		}
	}
}
