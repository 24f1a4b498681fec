package mqtt_test

import (
	"context"
	"errors"
	"io"
	"net"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// A wire carries connections to a broker until it is cut.
type wire struct {
	listener net.Listener
	target   string
	running  sync.WaitGroup
	mu       sync.Mutex
	ends     []net.Conn
}

func newWire(t *testing.T, target string) *wire {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &wire{listener: l, target: target}
	w.running.Go(w.serve)
	t.Cleanup(func() { l.Close(); w.cut(); w.running.Wait() })
	return w
}

func (w *wire) serve() {
	for {
		near, err := w.listener.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", w.target)
		if err != nil {
			near.Close()
			continue
		}
		w.mu.Lock()
		w.ends = append(w.ends, near, far)
		w.mu.Unlock()
		for _, pair := range [][2]net.Conn{{near, far}, {far, near}} {
			w.running.Go(func() { _, _ = io.Copy(pair[0], pair[1]); pair[0].Close(); pair[1].Close() })
		}
	}
}

// cut ends every connection without a goodbye.
func (w *wire) cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.ends {
		c.Close()
	}
	w.ends = nil
}

// kept waits until mosquitto hands out that retained payload to a new subscriber.
func kept(t *testing.T, addr, topic, want string) {
	t.Helper()
	host, port, _ := net.SplitHostPort(addr)
	got := ""
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); {
		out, _ := exec.Command("mosquitto_sub", "-h", host, "-p", port, "-t", topic, "-C", "1", "-W", "1").Output()
		if got = strings.TrimSpace(string(out)); got == want {
			return
		}
	}
	t.Fatalf("the broker keeps %q on %s, want %q", got, topic, want)
}

// The broker speaks for us when we are cut off, and forgets that after a goodbye.
func TestTheLastWill(t *testing.T) {
	broker := mqtttest.StartMosquitto(t)
	w := newWire(t, broker.Addr)
	up := make(chan bool, 10)
	a, err := mqtt.NewAnnouncer(mqtt.Config{URL: "tcp://" + w.listener.Addr().String(), ClientID: "house-state"},
		mqtt.Will{Topic: "flitch/state", Payload: "offline"}, func() { up <- true })
	if err != nil {
		t.Fatal(err)
	}
	say := func(payload string) {
		t.Helper()
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		defer cancel()
		if err := a.Announce(ctx, "flitch/state", []byte(payload), true); err != nil {
			t.Fatal(err)
		}
	}
	<-up
	say("online")
	kept(t, broker.Addr, "flitch/state", "online")
	w.cut()
	kept(t, broker.Addr, "flitch/state", "offline")
	<-up // by itself
	say("online")
	kept(t, broker.Addr, "flitch/state", "online")
	say("closed for the summer")
	a.Close()
	kept(t, broker.Addr, "flitch/state", "closed for the summer")
	if err := a.Announce(t.Context(), "flitch/state", nil, true); !errors.Is(err, mqtt.ErrAway) {
		t.Errorf("announcing after the end: %v", err)
	}
}
