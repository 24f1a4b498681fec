package mqtttest

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"io"
	"net"
	"sync"
	"testing"
	"time"
)

// A Relay stands between a subscriber and its broker. It passes every packet on, and knows
// which messages of quality of service 1 the subscriber has acknowledged.
type Relay struct {
	Addr string // host:port, where the subscriber connects

	broker   string
	listener net.Listener

	mu      sync.Mutex
	hasty   bool
	acked   map[string]int // by topic and payload
	lines   int            // connections that were subscribed
	passed  int            // messages, as often as they were sent
	open    []io.Closer
	changed chan struct{} // closed at the next change
}

// NewRelay relays to a broker, host:port, until Close or the end of the test.
func NewRelay(t testing.TB, broker string) *Relay {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &Relay{Addr: l.Addr().String(), broker: broker, listener: l, acked: map[string]int{}, changed: make(chan struct{})}
	t.Cleanup(r.Close)
	go r.accept()
	return r
}

// Hasten is for controls: from now on each message is acknowledged to the broker while it is
// passed on, as by a subscriber that acknowledges before it stores.
func (r *Relay) Hasten() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.hasty = true
}

// Close cuts all connections and takes no more.
func (r *Relay) Close() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.listener.Close()
	for _, c := range r.open {
		c.Close()
	}
}

// Acked is how often a message was acknowledged by the subscriber.
func (r *Relay) Acked(topic, payload string) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.acked[topic+" "+payload]
}

// Subscribed is on how many connections the broker has granted quality of service 1, which who
// only listens does not ask for. What it had
// kept for the subscriber it has sent by then, as far as it sends without an acknowledgement.
func (r *Relay) Subscribed() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.lines
}

// Passed is how many messages of quality of service 1 the subscriber was sent.
func (r *Relay) Passed() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.passed
}

// Until asks after each packet until it is so. It gives up after d, and when stop is closed.
func (r *Relay) Until(d time.Duration, stop <-chan struct{}, so func() bool) bool {
	late := time.After(d)
	for {
		r.mu.Lock()
		changed := r.changed
		r.mu.Unlock()
		if so() {
			return true
		}
		select {
		case <-changed:
		case <-stop:
			return so()
		case <-late:
			return false
		}
	}
}

func (r *Relay) accept() {
	for {
		near, err := r.listener.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", r.broker)
		if err != nil {
			near.Close()
			continue
		}
		r.mu.Lock()
		r.open = append(r.open, near, far)
		r.mu.Unlock()
		w := &way{relay: r, near: near, far: far, under: map[uint16]string{}}
		go w.carry(near, far, w.fromSubscriber)
		go w.carry(far, near, w.fromBroker)
	}
}

func (r *Relay) change(what func()) {
	r.mu.Lock()
	defer r.mu.Unlock()
	what()
	close(r.changed)
	r.changed = make(chan struct{})
}

// A way is one connection through the relay.
type way struct {
	relay     *Relay
	near, far net.Conn

	subscribed bool              // under mu of the relay, as the next
	under      map[uint16]string // messages that are not acknowledged
}

// carry passes packets on, those that look lets pass, until one side hangs up.
func (w *way) carry(from, to net.Conn, look func(packet []byte) (pass bool)) {
	defer w.near.Close()
	defer w.far.Close()
	for in := bufio.NewReader(from); ; {
		p, err := readPacket(in)
		if err != nil {
			return
		}
		if !look(p) {
			continue
		}
		if _, err := to.Write(p); err != nil {
			return
		}
	}
}

// fromBroker notes what is on its way to the subscriber (MQTT 3.1.1, 3.3 and 3.9).
func (w *way) fromBroker(p []byte) bool {
	switch {
	case p[0]&0xf0 == 0x90 && bytes.IndexByte(bodyOf(p)[2:], 1) >= 0: // SUBACK, QoS 1 granted
		w.relay.change(func() {
			if !w.subscribed {
				w.relay.lines, w.subscribed = w.relay.lines+1, true
			}
		})
	case p[0]&0xf0 == 0x30 && p[0]>>1&3 == 1: // PUBLISH, QoS 1
		body := bodyOf(p)
		end := 2 + int(binary.BigEndian.Uint16(body))
		id := binary.BigEndian.Uint16(body[end:])
		hasty := false
		w.relay.change(func() {
			w.relay.passed++
			w.under[id], hasty = string(body[2:end])+" "+string(body[end+2:]), w.relay.hasty
		})
		if hasty {
			_, _ = w.far.Write([]byte{0x40, 2, byte(id >> 8), byte(id)})
		}
	}
	return true
}

// fromSubscriber notes what it acknowledges (3.4).
func (w *way) fromSubscriber(p []byte) bool {
	if p[0] != 0x40 {
		return true
	}
	id, hasty := binary.BigEndian.Uint16(p[2:]), false
	w.relay.change(func() {
		hasty = w.relay.hasty
		if message, known := w.under[id]; known {
			w.relay.acked[message]++
			delete(w.under, id)
		}
	})
	return !hasty
}

// readPacket reads one packet, with its fixed header (2.2).
func readPacket(in *bufio.Reader) ([]byte, error) {
	head, err := in.ReadByte()
	if err != nil {
		return nil, err
	}
	out, size := []byte{head}, 0
	for shift := 0; ; shift += 7 {
		b, err := in.ReadByte()
		if err != nil {
			return nil, err
		}
		out = append(out, b)
		if size |= int(b&0x7f) << shift; b&0x80 == 0 {
			break
		}
	}
	out = append(out, make([]byte, size)...)
	_, err = io.ReadFull(in, out[len(out)-size:])
	return out, err
}

// bodyOf is a packet without its fixed header.
func bodyOf(p []byte) []byte {
	at := 1
	for p[at]&0x80 != 0 {
		at++
	}
	return p[at+1:]
}
