package broker_test

import (
	"bytes"
	"fmt"
	"io"
	"log/slog"
	"net"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt/mqtttest"
)

// speaker is a client that connects as it likes and reads what comes.
type speaker struct {
	net.Conn
	t *testing.T
}

func speak(t *testing.T, addr string, connect []byte) speaker {
	t.Helper()
	c, err := net.DialTimeout("tcp", addr, patience)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if err := c.SetDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Write(connect); err != nil {
		t.Fatal(err)
	}
	return speaker{c, t}
}

func (s speaker) say(head byte, parts ...[]byte) {
	s.t.Helper()
	if _, err := s.Write(framed(head, joined(parts...))); err != nil {
		s.t.Fatal(err)
	}
}

// hear returns the next packet of the kind; those of other kinds are passed over.
func (s speaker) hear(head byte) []byte {
	s.t.Helper()
	for {
		var first [2]byte
		if _, err := io.ReadFull(s, first[:]); err != nil {
			s.t.Fatalf("want a packet %#x: %v", head, err)
		}
		size := int(first[1] & 0x7f)
		for shift, b := 7, first[1]; b&0x80 != 0; shift += 7 {
			var more [1]byte
			if _, err := io.ReadFull(s, more[:]); err != nil {
				s.t.Fatal(err)
			}
			b = more[0]
			size |= int(b&0x7f) << shift
		}
		body := make([]byte, size)
		if _, err := io.ReadFull(s, body); err != nil {
			s.t.Fatal(err)
		}
		if first[0]&0xf0 == head&0xf0 {
			return body
		}
	}
}

// staying is a CONNECT of 3.1.1 whose session stays.
func staying(id string) []byte {
	return framed(0x10, joined(word("MQTT"), []byte{4, 0, 0, 60}, word(id)))
}

var one = []byte{0, 1}

// A client has so many subscriptions; the one too many is refused, those it has go on.
func TestSubscriptionsAreBounded(t *testing.T) {
	var log logText
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{MaxFilters: 10}, in, slog.New(slog.NewTextHandler(&log, nil)))
	for _, version := range []byte{4, 5} {
		s := speak(t, b.Addr(), connectPacket(version, fmt.Sprint("greedy", version), nil))
		refused := 0
		for i := range 500 {
			s.say(0x82, one, props(version), word(fmt.Sprintf("house/%d", i)), []byte{0}, word("house/0"), []byte{0})
			codes := s.hear(0x90)
			codes = codes[len(codes)-2:]
			if codes[0] >= 0x80 {
				refused++
			}
			if codes[1] >= 0x80 {
				t.Fatalf("version %d: a filter it has is refused at %d", version, i)
			}
		}
		if refused != 490 {
			t.Errorf("version %d: %d of 500 refused, want 490", version, refused)
		}
		s.say(0x30, word("house/0"), props(version), []byte("still here"))
		if got := s.hear(0x30); !bytes.Contains(got, []byte("still here")) {
			t.Errorf("heard %q", got)
		}
	}
	if n := strings.Count(log.String(), "refused a subscription"); n != 2 {
		t.Errorf("logged %d times", n)
	}
}

// Sessions are kept for so many clients that are away; the longest away goes first, to the second
// (the library's StopTime), so that which of these are left is not asked. What they subscribed to goes along.
func TestStoredSessionsAreBounded(t *testing.T) {
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{MaxStored: 5}, in, quietLog())
	before := settled()
	const sent = 400
	for i := range sent {
		s := speak(t, b.Addr(), staying(fmt.Sprint("ghost", i)))
		s.hear(0x20)
		s.say(0x82, one, word(fmt.Sprintf("house/%d/#", i)), []byte{1})
		s.hear(0x90)
		s.Close()
	}
	for deadline := time.Now().Add(patience); b.Clients() > 0 && time.Now().Before(deadline); {
		<-time.After(time.Millisecond) // real connections winding down
	}
	clients, filters := b.Held()
	if clients > 5 || filters > 5 {
		t.Errorf("%d sessions with %d subscriptions are kept of %d, want 5", clients, filters, sent)
	}
	if clients == 0 {
		t.Error("no session is kept: the newest should be")
	}
	flat(t, before)
	t.Logf("%d sessions were left behind", sent)
}

// What waits for clients that are away, or do not answer, has so much room.
func TestWhatWaitsIsBounded(t *testing.T) {
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{MaxQueued: 1 << 20, StallLimit: 200 * time.Millisecond}, in, quietLog())
	s := speak(t, b.Addr(), staying("away"))
	s.hear(0x20)
	s.say(0x82, one, word("house/#"), []byte{1})
	s.hear(0x90)
	s.Close()
	loud := speak(t, b.Addr(), connectPacket(4, "loud", nil))
	loud.hear(0x20)
	picture := bytes.Repeat([]byte("x"), 200<<10)
	for range 40 {
		loud.say(0x32, word("house/picture"), one, picture)
		loud.hear(0x40)
	}
	for deadline := time.Now().Add(patience); ; {
		if clients, _ := b.Held(); clients == 1 { // the loud one
			break
		}
		if time.Now().After(deadline) {
			t.Fatal("8 MB wait for somebody who is away")
		}
		<-time.After(5 * time.Millisecond) // the broker looks by the clock of the machine
	}
}

// Retained messages have so much room, with the levels of their topics.
func TestARetainedFloodIsBounded(t *testing.T) {
	var log logText
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{MaxKept: 1 << 20, MaxRate: 1e6}, in, slog.New(slog.NewTextHandler(&log, nil)))
	before := settled()
	s := speak(t, b.Addr(), connectPacket(4, "hoarder", nil))
	s.hear(0x20)
	const sent = 600
	for i := range sent {
		s.say(0x33, word(fmt.Sprintf("%d%s", i, strings.Repeat("/", 190))), one, []byte("x"))
		s.hear(0x40)
	}
	kept := len(b.Kept())
	if kept == 0 || kept > 1<<20/(190*640) {
		t.Errorf("%d of %d are kept", kept, sent)
	}
	if !strings.Contains(log.String(), "keeps no more retained messages") {
		t.Errorf("not told of: %s", log.String())
	}
	for i := range sent {
		s.say(0x33, word(fmt.Sprintf("%d%s", i, strings.Repeat("/", 190))), one)
		s.hear(0x40)
	}
	if kept := len(b.Kept()); kept != 0 {
		t.Errorf("%d are left", kept)
	}
	s.Close()
	flat(t, before)
	runtime.KeepAlive(b)
}

// Somebody who connects and says nothing, or says it a byte at a time, holds at most three
// quarters of the places, and those not for long; a sensor of another address gets in, and
// so does one of the same when they are over.
func TestSlowConnects(t *testing.T) {
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	soon := &hurried{}
	b, err := broker.New(broker.Config{Listen: "127.0.0.1:0", MaxClients: 16}, in, soon, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closeNow(t, b, in) })
	whole := connectPacket(4, "drip", nil)
	closed := 0
	for i := range 40 {
		s := speak(t, b.Addr(), whole[:i%len(whole)])
		if i >= 12 {
			if _, err := s.Read(make([]byte, 1)); err == nil {
				t.Fatal("an answer to half a CONNECT")
			}
			closed++
		}
	}
	if closed != 28 {
		t.Errorf("%d of 40 sent away", closed)
	}
	other, err := (&net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 9)}, Timeout: patience}).Dial("tcp", b.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := other.Write(connectPacket(4, "sensor", nil)); err != nil {
		t.Fatal(err)
	}
	if err := other.SetDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	speaker{other, t}.hear(0x20)
	for deadline := time.Now().Add(patience); b.Clients() > 1; {
		if time.Now().After(deadline) {
			t.Fatalf("%d connections are still there", b.Clients())
		}
		<-time.After(5 * time.Millisecond) // their deadlines are of the machine
	}
	speak(t, b.Addr(), connectPacket(4, "late", nil)).hear(0x20)
}

// hurried is the clock of the machine, set so that the deadline of a CONNECT is over in two
// seconds.
type hurried struct{ wall }

func (hurried) Now() time.Time { return time.Now().Add(-8 * time.Second) }

// A wrong secret waits for its answer.
func TestWhoGuessesASecretWaits(t *testing.T) {
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	asked := new(atomic.Int64)
	b, err := broker.New(broker.Config{Listen: "127.0.0.1:0", StallLimit: time.Hour, Users: map[string]broker.User{"alder": {Secret: "a secret"}}}, in, impatient{asked: asked}, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closeNow(t, b, in) })
	for i := range 20 {
		guess := joined(word("MQTT"), []byte{4, 0xc2, 0, 60}, word("x"), word("alder"), word(fmt.Sprint("guess ", i)))
		if ack := speak(t, b.Addr(), framed(0x10, guess)).hear(0x20); ack[1] == 0 {
			t.Fatal("a guess was right")
		}
	}
	if got := time.Duration(asked.Load()); got < 10*time.Second {
		t.Errorf("twenty guesses waited %s", got)
	}
	if _, err := mqtttest.Dial(b.Addr(), "nobody"); err == nil {
		t.Error("in without a name")
	}
}

// However much nonsense comes, the log has a bounded number of lines of it.
func TestNonsenseDoesNotFillTheLog(t *testing.T) {
	var log logText
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{}, in, slog.New(slog.NewTextHandler(&log, nil)))
	for range 200 {
		s := speak(t, b.Addr(), []byte("GET / HTTP/1.1\r\n\r\n"))
		_, _ = io.ReadAll(s)
		s.Close()
	}
	for deadline := time.Now().Add(patience); strings.Count(log.String(), "\n") < 30 && time.Now().Before(deadline); {
		<-time.After(time.Millisecond) // real connections winding down
	}
	if n := strings.Count(log.String(), "\n"); n < 30 || n > 70 { // the minute may change once
		t.Errorf("%d lines", n)
	}
}
