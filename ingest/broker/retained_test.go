package broker_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// notes is a Submitter that remembers what each topic said last.
type notes struct {
	up, heard chan struct{} // hold one token when there is news

	mu   sync.Mutex
	last map[string]string
}

func (*notes) Reads(string) bool { return true }

func (n *notes) Submit(_ context.Context, m ingest.Message) error {
	n.mu.Lock()
	n.last[m.Topic] = string(m.Payload)
	n.mu.Unlock()
	select {
	case n.heard <- struct{}{}:
	default:
	}
	if m.Ack != nil {
		m.Ack()
	}
	return nil
}

func (n *notes) says(topic string) string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.last[topic]
}

func (n *notes) wait(t *testing.T, topic, want string) {
	t.Helper()
	end := time.After(patience)
	for n.says(topic) != want {
		select {
		case <-n.heard:
		case <-end:
			t.Errorf("%s: last heard %q, want %q", topic, n.says(topic), want)
			return
		}
	}
}

// listen returns when the subscription stands.
func listen(t *testing.T, b *broker.Broker, id string, filters ...string) *notes {
	t.Helper()
	n := &notes{up: make(chan struct{}, 1), heard: make(chan struct{}, 1), last: map[string]string{}}
	up := mqtt.Events{Up: func(bool) { n.up <- struct{}{} }}
	ear, err := mqtt.Subscribe(mqtt.Config{URL: "tcp://" + b.Addr(), ClientID: id}, filters, n, wall{}, up, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(ear.Close)
	<-n.up
	return n
}

// ours is a broker with topics of its own.
func ours(t *testing.T) *broker.Broker {
	t.Helper()
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	return serve(t, broker.Config{Own: "flitch", FanOut: true}, in, quietLog())
}

func announce(t *testing.T, b *broker.Broker, says string) {
	t.Helper()
	if err := b.Announce(context.Background(), "flitch/state", []byte(says), true); err != nil {
		t.Fatal(err)
	}
}

// Who subscribes while a topic changes ends with what it said last: an old message
// must not pass the new one.
func TestNewestIsLast(t *testing.T) {
	b := ours(t)
	for round := range 20 {
		stands := make(chan *notes)
		go func() { stands <- listen(t, b, fmt.Sprint("ear-", round), "flitch/#") }()
		for changes := 0; ; changes++ {
			announce(t, b, fmt.Sprint(changes))
			select {
			case n := <-stands:
				announce(t, b, "last")
				n.settle(t, b)
				n.wait(t, "flitch/state", "last")
			default:
				continue
			}
			break
		}
	}
}

// settle waits for what is on its way.
func (n *notes) settle(t *testing.T, b *broker.Broker) {
	t.Helper()
	if err := b.Announce(context.Background(), "flitch/mark", []byte("here"), false); err != nil {
		t.Fatal(err)
	}
	n.wait(t, "flitch/mark", "here")
}

// Messages are kept whoever publishes them and whatever their level, until an empty
// one; others are not kept.
func TestRetained(t *testing.T) {
	b := ours(t)
	for qos := range 3 {
		if err := mqtttest.Pub(t, b.Addr(), fmt.Sprint("birch/lamp/", qos), "on", qos, "-r"); err != nil {
			t.Fatal(err)
		}
		if err := mqtttest.Pub(t, b.Addr(), fmt.Sprint("birch/bell/", qos), "on", qos); err != nil {
			t.Fatal(err)
		}
	}
	if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "3.5", 1, "-r"); err != nil { // a reading
		t.Fatal(err)
	}
	if err := mqtttest.Pub(t, b.Addr(), "birch/lamp/1", "", 1, "-r"); err != nil {
		t.Fatal(err)
	}
	n := listen(t, b, "late", "birch/#", "alder/+")
	n.wait(t, "birch/lamp/0", "on")
	n.wait(t, "birch/lamp/2", "on")
	n.wait(t, "alder/slow", "3.5")
	for _, topic := range []string{"birch/bell/0", "birch/bell/1", "birch/bell/2", "birch/lamp/1"} {
		if got := n.says(topic); got != "" {
			t.Errorf("%s was kept: %q", topic, got)
		}
	}
}

// A last will is kept like any message, and does not say what only flitch says.
func TestLastWill(t *testing.T) {
	b := ours(t)
	before := listen(t, b, "before", "#")
	for _, topic := range []string{"flitch/alarm", "birch/alive"} {
		dieWithWill(t, b, topic)
	}
	before.wait(t, "birch/alive", "gone")
	after := listen(t, b, "after", "#")
	after.wait(t, "birch/alive", "gone")
	for _, n := range []*notes{before, after} {
		if got := n.says("flitch/alarm"); got != "" {
			t.Errorf("a will says %q", got)
		}
	}
}

// dieWithWill connects with a last will and hangs up without a word, and returns when
// the broker has noticed.
func dieWithWill(t *testing.T, b *broker.Broker, topic string) {
	t.Helper()
	line, err := net.Dial("tcp", b.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	hello := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	hello.ProtocolName, hello.ProtocolVersion, hello.CleanSession, hello.ClientIdentifier = "MQTT", 4, true, "dies"
	hello.WillFlag, hello.WillRetain, hello.WillQos, hello.WillTopic, hello.WillMessage = true, true, 1, topic, []byte("gone")
	if err := hello.Write(line); err != nil {
		t.Fatal(err)
	}
	if answer, err := packets.ReadPacket(line); err != nil || answer.(*packets.ConnackPacket).ReturnCode != packets.Accepted {
		t.Fatalf("%v %v", answer, err)
	}
	if err := line.(*net.TCPConn).CloseWrite(); err != nil {
		t.Fatal(err)
	}
	if left, err := io.ReadAll(line); err != nil || len(left) > 0 {
		t.Errorf("%v %v", left, err)
	}
}
