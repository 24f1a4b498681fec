package mqtt_test

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
)

// benchMessages is one round. Their times run for benchMessages/12 ms.
const benchMessages = 30_000

func benchMappings() []ingest.Mapping {
	var all []ingest.Mapping
	for _, topic := range mqtttest.LoadTopics() {
		all = append(all, ingest.Mapping{Topic: topic, Spec: decode.Spec{Value: "/t", Time: "/at", TimeFormat: "unix-ms"},
			Probe: process.PlacedProbe{Probe: topic, Placement: process.Core}})
	}
	return all
}

// BenchmarkDurableExternal compares readings on disk per second, received from
// mosquitto and acknowledged after the commit, with what the client library
// receives through an empty handler. Rounds alternate.
func BenchmarkDurableExternal(b *testing.B) {
	m := mqtttest.StartMosquitto(b)
	var raw, durable []float64
	for b.Loop() {
		raw = append(raw, rawRound(b, m))
		durable = append(durable, durableRound(b, m))
	}
	mqtttest.Against(b, "durable_external", "msg/s", durable, raw)
}

// flood publishes a round and returns how many messages per second were handled,
// from the first publish until done closes.
func flood(b *testing.B, m *mqtttest.Mosquitto, done <-chan struct{}) float64 {
	b.Helper()
	r, err := mqtttest.Dial(m.Addr, "load")
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	packets := mqtttest.Load(benchMessages, time.Now().Add(-time.Minute))
	began := time.Now()
	if err := r.Flood(packets, 1000); err != nil {
		b.Fatal(err)
	}
	select {
	case <-done:
	case <-time.After(time.Minute):
		b.Fatal("not all messages came")
	}
	return benchMessages / time.Since(began).Seconds()
}

// rawRound is the client library with an empty handler.
func rawRound(b *testing.B, m *mqtttest.Mosquitto) float64 {
	b.Helper()
	var n atomic.Int64
	done := make(chan struct{})
	o := paho.NewClientOptions().AddBroker(m.URL()).SetClientID("raw").SetCleanSession(false)
	o.SetDefaultPublishHandler(func(paho.Client, paho.Message) {
		if n.Add(1) == benchMessages {
			close(done)
		}
	})
	c := paho.NewClient(o)
	if t := c.Connect(); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	defer c.Disconnect(250)
	filters := map[string]byte{}
	for _, topic := range mqtttest.LoadTopics() {
		filters[topic] = 1
	}
	if t := c.SubscribeMultiple(filters, nil); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	rate := flood(b, m, done)
	t := c.Unsubscribe(mqtttest.LoadTopics()...)
	t.Wait()
	return rate
}

// durableRound is the whole way into the real store.
func durableRound(b *testing.B, m *mqtttest.Mosquitto) float64 {
	b.Helper()
	s, n := newShelf(b), make(news, 10)
	acked := &countdown{left: benchMessages, done: make(chan struct{})}
	in := start(b, s, benchMappings(), ingest.Options{})
	counting := counted{in, acked}
	sub, err := mqtt.Subscribe(mqtt.Config{URL: m.URL(), ClientID: "durable"}, in.Topics(), counting, wall{}, n.events(), quietLog())
	if err != nil {
		b.Fatal(err)
	}
	<-n
	rate := flood(b, m, acked.done)
	if err := in.Stop(); err != nil {
		b.Fatal(err)
	}
	sub.Close()
	forget(b, m, "durable")
	if got := s.LastSeq(); got != benchMessages {
		b.Fatalf("%d readings on disk, want %d", got, benchMessages)
	}
	return rate
}

// forget ends a session at the broker, which would go on to queue for it.
func forget(b *testing.B, m *mqtttest.Mosquitto, id string) {
	b.Helper()
	r, err := mqtttest.Dial(m.Addr, id) // a clean session
	if err != nil {
		b.Fatal(err)
	}
	r.Close()
}

// countdown closes done at the last acknowledgement and remembers when each came.
type countdown struct {
	left int
	at   []time.Time // when it has room
	done chan struct{}
}

func (c *countdown) one() {
	if cap(c.at) > 0 {
		c.at = append(c.at, time.Now())
	}
	if c.left--; c.left == 0 {
		close(c.done)
	}
}

// counted submits with a count at each acknowledgement, which follows the commit.
type counted struct {
	*running
	acked *countdown
}

func (c counted) Submit(ctx context.Context, m ingest.Message) error {
	ack := m.Ack
	m.Ack = func() { c.acked.one(); ack() }
	return c.running.Submit(ctx, m)
}

// latencyMessages is one round at latencyRate.
const latencyRate, latencyMessages = 1000, 3000

// BenchmarkDurableLatencyExternal is the time from publish to on disk at 1,000
// messages per second, through mosquitto.
func BenchmarkDurableLatencyExternal(b *testing.B) {
	m := mqtttest.StartMosquitto(b)
	var took []time.Duration
	for b.Loop() {
		took = append(took, latencyRound(b, m)...)
	}
	for name, q := range map[string]float64{"p50": 0.5, "p99": 0.99} {
		ms := mqtttest.Quantile(took, q).Seconds() * 1000
		mqtttest.Alone(b, "latency_external_"+name, ms, "ms")
	}
}

func latencyRound(b *testing.B, m *mqtttest.Mosquitto) []time.Duration {
	b.Helper()
	s, n := newShelf(b), make(news, 10)
	acked := &countdown{left: latencyMessages, at: make([]time.Time, 0, latencyMessages), done: make(chan struct{})}
	in := start(b, s, benchMappings(), ingest.Options{})
	sub, err := mqtt.Subscribe(mqtt.Config{URL: m.URL(), ClientID: "latency"}, in.Topics(), counted{in, acked}, wall{}, n.events(), quietLog())
	if err != nil {
		b.Fatal(err)
	}
	<-n
	r, err := mqtttest.Dial(m.Addr, "load")
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	sent, err := r.Pace(mqtttest.Load(latencyMessages, time.Now().Add(-time.Minute)), latencyRate)
	if err != nil {
		b.Fatal(err)
	}
	<-acked.done
	if err := in.Stop(); err != nil {
		b.Fatal(err)
	}
	sub.Close()
	forget(b, m, "latency")
	took := make([]time.Duration, len(sent))
	for i := range sent {
		took[i] = acked.at[i].Sub(sent[i])
	}
	return took
}
