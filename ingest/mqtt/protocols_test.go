package mqtt_test

import (
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
	"flitch/testdata/published"
)

// hears collects words, and lets a test wait for one.
type hears chan string

func (h hears) wait(t testing.TB, want string) {
	t.Helper()
	deadline := time.After(patience)
	for {
		select {
		case got := <-h:
			if strings.Contains(got, want) {
				return
			}
		case <-deadline:
			t.Fatalf("did not hear %q", want)
		}
	}
}

func (h hears) said(s ingest.Said) {
	switch {
	case s.Gone:
		h <- s.Probe + " gone: " + s.Words
	case s.Back:
		h <- s.Probe + " back"
	}
}

// A device of Homie 5, played by mosquitto_pub, through a real broker: what was kept
// before we came is not stored, what is live is, and its last will is heard.
func TestHomieThroughMosquitto(t *testing.T) {
	m := mqtttest.StartMosquitto(t)
	const d = "homie/5/fridge/"
	pub(t, m, d+"$description", `{"homie":"5.0","version":1,"nodes":{"bottle":{"properties":{"temperature":{"datatype":"float","unit":"°F"}}}}}`, 1, "-r")
	pub(t, m, d+"$state", "ready", 1, "-r")
	pub(t, m, d+"bottle/temperature", "50.0", 1, "-r")

	s, done, n, h := newShelf(t), newStored(), make(news, 100), make(hears, 100)
	maps := []ingest.Mapping{{Protocol: ingest.Homie, Topic: d + "bottle/temperature", Probe: process.PlacedProbe{Probe: "slow", Placement: process.Product, Interval: time.Minute}}}
	in := start(t, s, maps, ingest.Options{Observe: done, Said: h.said, Vital: func(v ingest.Vital) { h <- fmt.Sprintf("%s %s %g", v.Probe, v.Kind, v.Value) }})
	sub := subscribe(t, m.URL(), in, n)
	n.expect(t, "up resumed=false")
	h.wait(t, "slow back")

	device := mqtttest.StartDevice(t, m.Addr, d+"bottle/temperature", d+"$state", "lost")
	device.Say("38.3")
	done.Wait(t, 1, 0)
	device.Say("38.48")
	done.Wait(t, 2, 0)
	pub(t, m, d+"$stats/battery", "78", 1, "-r")
	h.wait(t, "slow battery 78")
	device.Die()
	h.wait(t, "slow gone: its connection broke (Homie $state lost)")
	pub(t, m, d+"$state", "ready", 1, "-r")
	h.wait(t, "slow back")
	pub(t, m, d+"bottle/temperature", "38.3", 1, "-r")
	done.Wait(t, 3, 0)
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	sub.Close()
	var got []string
	for _, r := range s.Series(t, "slow") {
		got = append(got, fmt.Sprintf("%.1f %s", r.Value, r.Quality))
	}
	if strings.Join(got, ", ") != "3.5 good, 3.6 good, 3.5 good" {
		t.Errorf("stored %v", got)
	}

	// A second start finds what the broker kept, the newest value too, and stores none.
	again := newStored()
	in = start(t, s, maps, ingest.Options{Observe: again, Said: h.said})
	sub = subscribe(t, m.URL(), in, n)
	h.wait(t, "slow back")
	pub(t, m, d+"bottle/temperature", "39.2", 1)
	again.Wait(t, 1, 0)
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	sub.Close()
	if got := s.Values(t, "slow"); len(got) != 4 || fmt.Sprintf("%.1f", got[3]) != "4.0" {
		t.Errorf("stored %v", got)
	}
}

// A node of Sparkplug whose birth was missed is asked for it through the broker, and
// its answer, encoded by others, is understood.
func TestSparkplugThroughMosquitto(t *testing.T) {
	m := mqtttest.StartMosquitto(t)
	heard := make(hears, 100)
	ears, err := mqtt.Overhear(mqtt.Config{URL: m.URL(), ClientID: "node"}, []string{"spBv1.0/shop/NCMD/kettle"}, func(topic string, payload []byte, retained bool) {
		heard <- fmt.Sprintf("%s %x %t", topic, payload, retained)
	})
	if err != nil {
		t.Fatal(err)
	}
	defer ears.Close()

	s, done, n := newShelf(t), newStored(), make(news, 100)
	maps := []ingest.Mapping{{Protocol: ingest.Sparkplug, Topic: "shop/kettle/probes", Metric: "core", Probe: process.PlacedProbe{Probe: "core", Placement: process.Core}, Spec: decode.Spec{Unit: "F"}}}
	calls := make(chan ingest.Call, 10)
	in := start(t, s, maps, ingest.Options{Observe: done, Call: func(c ingest.Call) { calls <- c }})
	sub := subscribe(t, m.URL(), in, n)
	n.expect(t, "up resumed=false")
	node, err := mqtttest.Dial(m.Addr, "kettle")
	if err != nil {
		t.Fatal(err)
	}
	defer node.Close()
	table, err := published.Read("sparkplug_messages.csv")
	if err != nil {
		t.Fatal(err)
	}
	play := func(rows []published.Row) {
		for _, row := range rows {
			body, err := hex.DecodeString(row.Text(t, "payload"))
			if err != nil {
				t.Fatal(err)
			}
			if err := node.Send(mqtttest.Packet(row.Text(t, "topic"), body, 0, 0)); err != nil {
				t.Fatal(err)
			}
		}
	}
	play(table.Rows[:1]) // data by alias, before any birth
	var c ingest.Call
	select {
	case c = <-calls:
	case <-time.After(patience):
		t.Fatal("no birth is asked for")
	}
	if err := sub.Send(c.Topic, c.Payload); err != nil {
		t.Fatal(err)
	}
	heard.wait(t, fmt.Sprintf("spBv1.0/shop/NCMD/kettle %x false", c.Payload))
	play(table.Rows[2:11]) // the births, and data by alias, stored values among them
	done.Wait(t, 2, 0)
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	sub.Close()
	// The clock of this node runs years ahead of ours: what is live has the time it came,
	// with a mark, and what stands in a birth or was stored is not taken at all.
	var got []string
	for _, r := range s.Series(t, "core") {
		got = append(got, fmt.Sprintf("%.1f %s", r.Value*9/5+32, r.Quality))
	}
	if strings.Join(got, ", ") != "129.1 suspect, 130.0 suspect" {
		t.Errorf("stored %v", got)
	}
	if err := sub.Send(c.Topic, c.Payload); err == nil {
		t.Error("sent on a closed connection")
	}
}
