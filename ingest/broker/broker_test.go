package broker_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// serve runs a broker until the test ends; it closes before the intake's cleanup
// only if the test stops the intake itself.
func serve(t testing.TB, conf broker.Config, in *running, log *slog.Logger) *broker.Broker {
	t.Helper()
	if conf.Listen == "" {
		conf.Listen = "127.0.0.1:0"
	}
	b, err := broker.New(conf, in, wall{}, log)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closeNow(t, b, in) })
	return b
}

func closeNow(t testing.TB, b *broker.Broker, in *running) {
	t.Helper()
	_ = in.Stop()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := b.Close(ctx); err != nil {
		t.Errorf("close: %v", err)
	}
}

// The promise, with a real publisher at every quality of service.
func TestMosquittoPub(t *testing.T) {
	s, done := newShelf(t), newStored()
	b := serve(t, broker.Config{}, start(t, s, mappings(), ingest.Options{Observe: done}), quietLog())
	for qos := range 3 {
		if err := mqtttest.Pub(t, b.Addr(), "alder/slow", fmt.Sprint(3+qos), qos); err != nil {
			t.Fatalf("QoS %d: %v", qos, err)
		}
		if qos > 0 { // the publisher has returned: it was acknowledged
			if got := s.Values(t, "alder-slow"); !slices.Contains(got, float64(3+qos)) {
				t.Fatalf("QoS %d acknowledged, on disk: %v", qos, got)
			}
		}
		done.Wait(t, qos+1, 0)
	}
	if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "6", 1, "-V", "mqttv5"); err != nil {
		t.Fatalf("MQTT 5: %v", err)
	}
	if got := s.Values(t, "alder-slow"); !slices.Equal(got, []float64{3, 4, 5, 6}) {
		t.Errorf("on disk: %v", got)
	}
}

// Nothing is acknowledged before the commit, and everything after, in order.
func TestNoPubackBeforeCommit(t *testing.T) {
	s := newShelf(t)
	s.Gate = make(chan struct{})
	b := serve(t, broker.Config{}, start(t, s, mappings(), ingest.Options{}), quietLog())
	r, err := mqtttest.Dial(b.Addr(), "alder")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for i := range 3 {
		if err := r.Send(mqtttest.Packet("alder/slow", []byte("3.9"), 1, uint16(i+1))); err != nil {
			t.Fatal(err)
		}
	}
	var timeout net.Error
	if id, err := r.Puback(300 * time.Millisecond); !errors.As(err, &timeout) || !timeout.Timeout() {
		t.Fatalf("PUBACK %d before the commit (%v)", id, err)
	}
	close(s.Gate)
	for want := uint16(1); want <= 3; want++ {
		if id, err := r.Puback(patience); err != nil || id != want {
			t.Fatalf("PUBACK %d %v, want %d", id, err, want)
		}
	}
	if got := s.Values(t, "alder-slow"); len(got) != 3 {
		t.Errorf("on disk: %v", got)
	}
}

// A device that does not read its acknowledgements holds up nobody else.
func TestStalledClientHoldsUpNobody(t *testing.T) {
	s, done := newShelf(t), newStored()
	b := serve(t, broker.Config{}, start(t, s, mappings(), ingest.Options{Observe: done}), quietLog())
	stalled, err := mqtttest.Dial(b.Addr(), "stalled")
	if err != nil {
		t.Fatal(err)
	}
	defer stalled.Close()
	payload := []byte("3.9")
	for i := range 20000 {
		if err := stalled.Send(mqtttest.Packet("alder/slow", payload, 1, mqtttest.PacketID(i))); err != nil {
			t.Fatal(err)
		}
	}
	began := time.Now()
	if err := mqtttest.Pub(t, b.Addr(), "kettle/core", timed(60, began), 1); err != nil {
		t.Fatal(err)
	}
	done.Wait(t, 20001, 0)
}

func timed(v float64, at time.Time) string {
	return fmt.Sprintf(`{"t":%g,"at":%d}`, v, at.UnixMilli())
}

// A store that fails: no acknowledgement, the client is sent away after the limit,
// and when it comes again nothing is missing and nothing double.
func TestStoreFailureSendsClientsAway(t *testing.T) {
	s := newShelf(t)
	s.SetFail(errDisk)
	b := serve(t, broker.Config{StallLimit: 200 * time.Millisecond}, start(t, s, mappings(), ingest.Options{}), quietLog())
	now := time.Now()
	first, err := mqtttest.Dial(b.Addr(), "kettle")
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	packet := mqtttest.Packet("kettle/core", []byte(timed(61.5, now)), 1, 7)
	if err := first.Send(packet); err != nil {
		t.Fatal(err)
	}
	var timeout net.Error
	if id, err := first.Puback(patience); err == nil || errors.As(err, &timeout) && timeout.Timeout() {
		t.Fatalf("want the connection to end, got PUBACK %d %v", id, err)
	}
	s.SetFail(nil)
	again, err := mqtttest.Dial(b.Addr(), "kettle")
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if err := again.Send(packet); err != nil {
		t.Fatal(err)
	}
	if id, err := again.Puback(patience); err != nil || id != 7 {
		t.Fatalf("PUBACK %d %v", id, err)
	}
	if got := s.Values(t, "core-a"); !slices.Equal(got, []float64{61.5}) {
		t.Errorf("on disk: %v", got)
	}
}

// Stopping in the right order: what was taken is stored and acknowledged.
func TestStopAcknowledgesWhatWasTaken(t *testing.T) {
	s := newShelf(t)
	s.Gate = make(chan struct{})
	in := start(t, s, mappings(), ingest.Options{})
	b, err := broker.New(broker.Config{Listen: "127.0.0.1:0"}, in, wall{}, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	r, err := mqtttest.Dial(b.Addr(), "alder")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for i := range 50 {
		if err := r.Send(mqtttest.Packet("alder/slow", []byte("4"), 1, uint16(i+1))); err != nil {
			t.Fatal(err)
		}
	}
	s.Gate <- struct{}{} // some are taken by now
	close(s.Gate)
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	if err := b.Close(ctx); err != nil {
		t.Fatal(err)
	}
	acked := 0
	for ; ; acked++ {
		if _, err := r.Puback(patience); err != nil {
			break
		}
	}
	if got := s.Values(t, "alder-slow"); acked == 0 || acked != len(got) {
		t.Errorf("%d acknowledged, %d on disk", acked, len(got))
	}
	if _, err := mqtttest.Dial(b.Addr(), "late"); err == nil {
		t.Error("connected after Close")
	}
}

// Other subscribers hear a reading once it is on disk, and topics that are no
// readings as from any broker.
func TestFanOut(t *testing.T) {
	s := newShelf(t)
	in := start(t, s, mappings(), ingest.Options{})
	b := serve(t, broker.Config{FanOut: true}, in, quietLog())
	heard := make(chan string, 10)
	ear, err := mqtt.Subscribe(mqtt.Config{URL: "tcp://" + b.Addr(), ClientID: "ear"},
		[]string{"alder/slow", "birch/door"}, listener{heard}, wall{}, mqtt.Events{Up: func(bool) { heard <- "up" }}, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	defer ear.Close()
	expect := func(want string) {
		t.Helper()
		select {
		case got := <-heard:
			if got != want {
				t.Fatalf("heard %q, want %q", got, want)
			}
		case <-time.After(patience):
			t.Fatalf("did not hear %q", want)
		}
	}
	expect("up")
	for qos := range 3 {
		if err := mqtttest.Pub(t, b.Addr(), "alder/slow", fmt.Sprint(qos), qos); err != nil {
			t.Fatal(err)
		}
		expect("alder/slow " + fmt.Sprint(qos))
		if got := s.Values(t, "alder-slow"); len(got) != qos+1 {
			t.Errorf("heard before it was on disk: %v", got)
		}
	}
	if err := mqtttest.Pub(t, b.Addr(), "birch/door", "open", 1); err != nil {
		t.Fatal(err)
	}
	expect("birch/door open")
	select {
	case again := <-heard:
		t.Errorf("heard once more: %q", again)
	default:
	}
}

// listener is a Submitter that only hears.
type listener struct{ heard chan string }

func (l listener) Reads(string) bool { return true }

func (l listener) Submit(_ context.Context, m ingest.Message) error {
	l.heard <- m.Topic + " " + string(m.Payload)
	if m.Ack != nil {
		m.Ack()
	}
	return nil
}
