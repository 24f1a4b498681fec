package broker_test

import (
	"context"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"

	"flitch/ingest"
	"flitch/ingest/broker"
)

// told is a Submitter that notes what it is given, and reads what a device says.
type told struct {
	mu  sync.Mutex
	got []string
}

func (*told) Reads(topic string) bool { return strings.HasPrefix(topic, "homie/") }

func (n *told) Submit(_ context.Context, m ingest.Message) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	word := m.Topic + "=" + string(m.Payload)
	if m.Retained {
		word += " kept"
	}
	n.got = append(n.got, word)
	if m.Ack != nil {
		m.Ack()
	}
	return nil
}

// What a broker kept goes along to the one that follows it: to the intake, marked as a
// copy, and to later subscribers. What flitch itself said does not.
func TestWhatWasKeptGoesAlong(t *testing.T) {
	kept := []broker.Kept{{Topic: "homie/fridge/bottle/temperature/$unit", Payload: []byte("°C"), QoS: 1}, {Topic: "hall/lamp", Payload: []byte("on")}}
	n := &told{}
	b, err := broker.New(broker.Config{Listen: "127.0.0.1:0", FanOut: true, Own: "flitch", Kept: kept}, n, wall{}, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	defer b.Close(t.Context())
	if want := []string{"homie/fridge/bottle/temperature/$unit=°C kept"}; !slices.Equal(n.got, want) {
		t.Errorf("the intake was told %q, want %q", n.got, want)
	}
	host, port, _ := strings.Cut(b.Addr(), ":")
	for topic, want := range map[string]string{"homie/fridge/bottle/temperature/$unit": "°C", "hall/lamp": "on"} {
		out, err := exec.Command("mosquitto_sub", "-h", host, "-p", port, "-t", topic, "-C", "1", "-W", "10").Output()
		if err != nil || strings.TrimSpace(string(out)) != want {
			t.Errorf("%s: a subscriber got %q, %v", topic, out, err)
		}
	}
	if err := b.Announce(t.Context(), "flitch/state", []byte("online"), true); err != nil {
		t.Fatal(err)
	}
	var again []string
	for _, k := range b.Kept() {
		again = append(again, k.Topic+"="+string(k.Payload))
	}
	slices.Sort(again)
	if want := []string{"hall/lamp=on", "homie/fridge/bottle/temperature/$unit=°C"}; !slices.Equal(again, want) {
		t.Errorf("kept %q, want %q", again, want)
	}
}
