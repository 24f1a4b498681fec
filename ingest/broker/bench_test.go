package broker_test

import (
	"context"
	"io"
	"log/slog"
	"testing"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/decode"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
)

// unbounded is no bound on the packets of one client: what is measured is the broker.
const unbounded = 1e9

// benchMessages is one round. Their times run for benchMessages/12 ms.
const benchMessages = 200_000

func benchMappings() []ingest.Mapping {
	var all []ingest.Mapping
	for _, topic := range mqtttest.LoadTopics() {
		all = append(all, ingest.Mapping{Topic: topic, Spec: decode.Spec{Value: "/t", Time: "/at", TimeFormat: "unix-ms"},
			Probe: process.PlacedProbe{Probe: topic, Placement: process.Core}})
	}
	return all
}

// BenchmarkDurableEmbedded compares messages per second that the publisher sees
// acknowledged: on disk before each acknowledgement, against the broker library
// alone with an empty publish hook. Rounds alternate.
func BenchmarkDurableEmbedded(b *testing.B) {
	var raw, durable []float64
	for b.Loop() {
		raw = append(raw, rawRound(b))
		durable = append(durable, durableRound(b))
	}
	mqtttest.Against(b, "durable_embedded", "msg/s", durable, raw)
}

// flood publishes a round, at most 1000 unacknowledged, and returns how many
// messages per second were acknowledged.
func flood(b *testing.B, addr string) float64 {
	b.Helper()
	r, err := mqtttest.Dial(addr, "load")
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	packets := mqtttest.Load(benchMessages, time.Now().Add(-time.Minute))
	began := time.Now()
	if err := r.Flood(packets, 1000); err != nil {
		b.Fatal(err)
	}
	return benchMessages / time.Since(began).Seconds()
}

// empty is a publish hook that does nothing, and lets everyone in.
type empty struct{ mochi.HookBase }

func (*empty) Provides(b byte) bool {
	return b == mochi.OnPublish || b == mochi.OnConnectAuthenticate || b == mochi.OnACLCheck
}
func (*empty) OnConnectAuthenticate(*mochi.Client, packets.Packet) bool { return true }
func (*empty) OnACLCheck(*mochi.Client, string, bool) bool              { return true }
func (*empty) OnPublish(_ *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	return pk, nil
}

// rawRound is the broker library alone.
func rawRound(b *testing.B) float64 {
	b.Helper()
	server := mochi.New(&mochi.Options{Logger: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err := server.AddHook(new(empty), nil); err != nil {
		b.Fatal(err)
	}
	l := listeners.NewTCP(listeners.Config{ID: "raw", Address: "127.0.0.1:0"})
	if err := server.AddListener(l); err != nil {
		b.Fatal(err)
	}
	if err := server.Serve(); err != nil {
		b.Fatal(err)
	}
	defer server.Close()
	return flood(b, l.Address())
}

// durableRound is the whole way into the real store and back.
func durableRound(b *testing.B) float64 {
	b.Helper()
	s := newShelf(b)
	in := start(b, s, benchMappings(), ingest.Options{})
	br, err := broker.New(broker.Config{Listen: "127.0.0.1:0", MaxRate: unbounded}, in, wall{}, quietLog())
	if err != nil {
		b.Fatal(err)
	}
	if err := br.Serve(); err != nil {
		b.Fatal(err)
	}
	rate := flood(b, br.Addr())
	if got := s.LastSeq(); got != benchMessages {
		b.Fatalf("%d readings on disk, want %d", got, benchMessages)
	}
	shut(b, in, br)
	return rate
}

func shut(b *testing.B, in *running, br *broker.Broker) {
	b.Helper()
	if err := in.Stop(); err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := br.Close(ctx); err != nil {
		b.Fatal(err)
	}
}

// latencyMessages is one round at latencyRate.
const latencyRate, latencyMessages = 1000, 3000

// BenchmarkDurableLatencyEmbedded is the time from publish to the acknowledgement
// that follows the commit, at 1,000 messages per second.
func BenchmarkDurableLatencyEmbedded(b *testing.B) {
	var took []time.Duration
	for b.Loop() {
		took = append(took, latencyRound(b)...)
	}
	for name, q := range map[string]float64{"p50": 0.5, "p99": 0.99} {
		ms := mqtttest.Quantile(took, q).Seconds() * 1000
		mqtttest.Alone(b, "latency_embedded_"+name, ms, "ms")
	}
}

func latencyRound(b *testing.B) []time.Duration {
	b.Helper()
	s := newShelf(b)
	in := start(b, s, benchMappings(), ingest.Options{})
	br, err := broker.New(broker.Config{Listen: "127.0.0.1:0", MaxRate: unbounded}, in, wall{}, quietLog())
	if err != nil {
		b.Fatal(err)
	}
	if err := br.Serve(); err != nil {
		b.Fatal(err)
	}
	r, err := mqtttest.Dial(br.Addr(), "load")
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	acked := make(chan []time.Time, 1)
	go func() {
		at := make([]time.Time, 0, latencyMessages)
		for range latencyMessages {
			if _, err := r.Puback(patience); err != nil {
				break
			}
			at = append(at, time.Now())
		}
		acked <- at
	}()
	sent, err := r.Pace(mqtttest.Load(latencyMessages, time.Now().Add(-time.Minute)), latencyRate)
	if err != nil {
		b.Fatal(err)
	}
	at := <-acked
	if len(at) != latencyMessages {
		b.Fatalf("%d acknowledgements", len(at))
	}
	shut(b, in, br)
	took := make([]time.Duration, len(sent))
	for i := range sent {
		took[i] = at[i].Sub(sent[i])
	}
	return took
}
