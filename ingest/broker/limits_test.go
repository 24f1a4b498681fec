package broker_test

import (
	"bytes"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt/mqtttest"
)

func TestSignIn(t *testing.T) {
	var log logText
	s := newShelf(t)
	in := start(t, s, mappings(), ingest.Options{})
	b := serve(t, broker.Config{Users: map[string]broker.User{"alder": {Secret: "0123456789abcdef"}}}, in,
		slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug})))
	for _, c := range []struct {
		name string
		args []string
		ok   bool
	}{
		{"right", []string{"-u", "alder", "-P", "0123456789abcdef"}, true},
		{"wrong secret", []string{"-u", "alder", "-P", "0123456789abcdeX"}, false},
		{"no secret", []string{"-u", "alder"}, false},
		{"unknown user", []string{"-u", "birch", "-P", "0123456789abcdef"}, false},
		{"nobody", nil, false},
	} {
		err := mqtttest.Pub(t, b.Addr(), "alder/slow", "4", 1, c.args...)
		if (err == nil) != c.ok {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if got := s.Values(t, "alder-slow"); len(got) != 1 {
		t.Errorf("on disk: %v", got)
	}
	if strings.Contains(log.String(), "0123456789abcde") {
		t.Error("a secret is in the log")
	}
}

// logText is a log that may be read while it is written.
type logText struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (l *logText) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.Write(p)
}

func (l *logText) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.String()
}

// Without users the broker is for this machine only.
func TestOpenBrokerIsRefused(t *testing.T) {
	_, err := broker.New(broker.Config{Listen: "0.0.0.0:0"}, listener{}, wall{}, quietLog())
	if err == nil || !strings.Contains(err.Error(), "add a user, listen on 127.0.0.1") {
		t.Errorf("error %v", err)
	}
	_, err = broker.New(broker.Config{Listen: "127.0.0.1:0", Users: map[string]broker.User{"a": {}}}, listener{}, wall{}, quietLog())
	if err == nil || !strings.Contains(err.Error(), "a user needs a name and a secret") {
		t.Errorf("error %v", err)
	}
	_, err = broker.New(broker.Config{Listen: "300.0.0.1:x"}, listener{}, wall{}, quietLog())
	if err == nil || !strings.Contains(err.Error(), "listen on 300.0.0.1:x") {
		t.Errorf("error %v", err)
	}
}

// A packet with a password in it never reaches the log: the library prints the
// packet it stumbled over, and a second CONNECT is one.
func TestPasswordIsNotLogged(t *testing.T) {
	var log logText
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{}, in, slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug})))
	r, err := mqtttest.Dial(b.Addr(), "twice")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	connect := "\x10\x1b\x00\x04MQTT\x04\xc2\x00\x3c\x00\x01x\x00\x04user\x00\x06hushhh"
	if err := r.Send([]byte(connect)); err != nil {
		t.Fatal(err)
	}
	if _, err := r.Puback(patience); err == nil {
		t.Fatal("want the connection to end")
	}
	deadline := time.Now().Add(patience)
	for b.Clients() > 0 && time.Now().Before(deadline) {
		<-time.After(time.Millisecond) // a real connection winding down
	}
	if strings.Contains(log.String(), "hushhh") || strings.Contains(log.String(), fmt.Sprint([]byte("hushhh"))) {
		t.Errorf("the password is in the log:\n%s", log.String())
	}
	if !strings.Contains(log.String(), "error processing packet") {
		t.Errorf("the control failed: the library did not complain:\n%s", log.String())
	}
}

// One connection too many is closed at once.
func TestConnectionLimit(t *testing.T) {
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{MaxClients: 2}, in, quietLog())
	for i := range 2 {
		r, err := mqtttest.Dial(b.Addr(), fmt.Sprint("client", i))
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		if err := r.Send(mqtttest.Packet("elsewhere", []byte("1"), 1, 1)); err != nil {
			t.Fatal(err)
		}
		if _, err := r.Puback(patience); err != nil { // from then on it is no stranger, of whom few may be there
			t.Fatal(err)
		}
	}
	if r, err := mqtttest.Dial(b.Addr(), "third"); err == nil {
		r.Close()
		t.Error("a third client was let in")
	}
}

// An oversized packet ends the connection, an oversized payload is kept as
// rejected.
func TestSizes(t *testing.T) {
	s := newShelf(t)
	in := start(t, s, mappings(), ingest.Options{})
	b := serve(t, broker.Config{}, in, quietLog())
	r, err := mqtttest.Dial(b.Addr(), "large")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if err := r.Send(mqtttest.Packet("alder/slow", bytes.Repeat([]byte("1"), 1_000_000), 1, 1)); err != nil {
		t.Fatal(err)
	}
	if id, err := r.Puback(patience); err != nil || id != 1 {
		t.Fatalf("PUBACK %d %v", id, err)
	}
	if kept, err := s.Rejections(2); err != nil || len(kept) != 1 || kept[0].Size != 1_000_000 {
		t.Errorf("kept %d %v", len(kept), err)
	}
	_ = r.Send(mqtttest.Packet("alder/slow", bytes.Repeat([]byte("1"), 3<<20), 1, 2)) // may fail half-way
	if id, err := r.Puback(patience); err == nil {
		t.Errorf("PUBACK %d", id)
	}
}
