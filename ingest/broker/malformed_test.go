package broker_test

import (
	"encoding/binary"
	"fmt"
	"io"
	"log/slog"
	"net"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt/mqtttest"
)

// What a client may send in place of a packet, over a real socket: each kind of packet of
// both versions cut off at each byte, with and without the length that would be right, with
// each set of flags, with bytes changed, and odd ones by name. Afterwards somebody who sends
// a reading gets its PUBACK, nothing was acknowledged that is not on disk, and there are no
// more goroutines and no more memory than before.
func TestMalformedPackets(t *testing.T) {
	var log logText
	s, done := newShelf(t), newStored()
	in := start(t, s, mappings(), ingest.Options{Observe: done})
	b := serve(t, broker.Config{FanOut: true}, in, slog.New(slog.NewTextHandler(&log, nil)))
	var list []attack
	for _, version := range []byte{4, 5} {
		for _, p := range everyPacket(version) {
			list = append(list, mutilated(version, p)...)
		}
	}
	list = append(list, oddPackets()...)
	if len(list) < 3000 {
		t.Fatalf("only %d malformed packets", len(list))
	}
	attackAll(t, b.Addr(), list[:100]) // what is made once is made
	before := settled()
	acked := attackAll(t, b.Addr(), list)
	fine, err := mqtttest.Dial(b.Addr(), "good")
	if err != nil {
		t.Fatal(err)
	}
	defer fine.Close()
	for i := range uint16(20) {
		if err := fine.Send(mqtttest.Packet("kettle/core", []byte(timed(60, time.Now().Add(time.Duration(i)*time.Millisecond))), 1, i+1)); err != nil {
			t.Fatal(err)
		}
		if id, err := fine.Puback(patience); err != nil || id != i+1 {
			t.Fatalf("a good reading: PUBACK %d, %v", id, err)
		}
	}
	fine.Close()
	rejected, err := s.Rejections(1 << 20)
	if err != nil {
		t.Fatal(err)
	}
	_, twice, _ := done.State()
	stored := len(s.Series(t, "alder-slow")) + twice + len(rejected)
	if acked > stored {
		t.Errorf("%d acknowledged on the topic of a reading, %d on disk", acked, stored)
	}
	if acked == 0 || stored == 0 {
		t.Errorf("the control: %d acknowledged, %d stored; want some of each", acked, stored)
	}
	flat(t, before)
	if text := log.String(); strings.Contains(text, "panic") || strings.Contains(text, "goroutine ") {
		t.Errorf("the log tells of a panic:\n%.2000s", text)
	}
	if n := strings.Count(log.String(), "\n"); n > 500 {
		t.Errorf("%d lines of log", n)
	}
	t.Logf("%d malformed packets sent, %d readings among them acknowledged, %d on disk", len(list), acked, stored)
}

// An attack is what is sent on one connection: after a CONNECT of the version, or at once.
type attack struct {
	name    string
	version byte
	first   bool // in place of CONNECT
	bytes   []byte
}

// attackAll sends everything, each on a connection of its own, and returns how many readings
// were acknowledged.
func attackAll(t *testing.T, addr string, list []attack) (acked int) {
	t.Helper()
	var mu sync.Mutex
	var all sync.WaitGroup
	next := make(chan attack)
	for range 4 {
		all.Go(func() {
			for a := range next {
				n, err := a.run(addr)
				if err != nil {
					t.Errorf("%s (% x): %v", a.name, a.bytes[:min(len(a.bytes), 40)], err)
				}
				mu.Lock()
				acked += n
				mu.Unlock()
			}
		})
	}
	for _, a := range list {
		next <- a
	}
	close(next)
	all.Wait()
	return acked
}

// run sends the bytes, hangs up half and reads to the end. It counts the PUBACKs and PUBRECs
// if what was sent was a PUBLISH to the topic of a reading.
func (a attack) run(addr string) (acked int, err error) {
	c, err := net.DialTimeout("tcp", addr, patience)
	if err != nil {
		return 0, err
	}
	defer c.Close()
	if err := c.SetDeadline(time.Now().Add(patience)); err != nil {
		return 0, err
	}
	if !a.first {
		if _, err := c.Write(connectPacket(a.version, fmt.Sprintf("m%p", &a), nil)); err != nil {
			return 0, err
		}
		if err := readConnack(c); err != nil {
			return 0, err
		}
	}
	// The other side may have hung up already.
	_, _ = c.Write(a.bytes)
	_ = c.(*net.TCPConn).CloseWrite()
	answer, err := io.ReadAll(c)
	if timeout, ok := err.(net.Error); ok && timeout.Timeout() {
		return 0, fmt.Errorf("the connection is still there: %w", err)
	}
	if strings.Contains(string(a.bytes), "alder/slow") {
		acked = countAcks(answer)
	}
	return acked, nil
}

func readConnack(c net.Conn) error {
	var head [2]byte
	if _, err := io.ReadFull(c, head[:]); err != nil {
		return fmt.Errorf("CONNACK: %w", err)
	}
	rest := make([]byte, head[1])
	if _, err := io.ReadFull(c, rest); err != nil || head[0] != 0x20 || rest[1] != 0 {
		return fmt.Errorf("CONNACK % x % x, %v", head, rest, err)
	}
	return nil
}

// countAcks counts what says that a PUBLISH was taken: PUBACK, and PUBREC, without an error.
func countAcks(answer []byte) (n int) {
	for len(answer) >= 2 {
		size := int(answer[1])
		if answer[1]&0x80 != 0 || len(answer) < 2+size {
			return n
		}
		kind, body := answer[0]>>4, answer[2:2+size]
		if (kind == 4 || kind == 5) && (len(body) < 3 || body[2] < 0x80) {
			n++
		}
		answer = answer[2+size:]
	}
	return n
}

// A state is what must not grow.
type state struct {
	goroutines int
	heap       uint64
}

func measured() state {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return state{runtime.NumGoroutine(), m.HeapAlloc}
}

// settled is the state when the connections of before have wound down.
func settled() state {
	last := measured()
	for range 40 {
		<-time.After(50 * time.Millisecond) // real connections winding down
		now := measured()
		if now.goroutines >= last.goroutines && last.goroutines > 0 {
			return now
		}
		last = now
	}
	return last
}

func flat(t *testing.T, before state) {
	t.Helper()
	var now state
	for deadline := time.Now().Add(patience); ; {
		if now = measured(); now.goroutines <= before.goroutines+2 || time.Now().After(deadline) {
			break
		}
		<-time.After(20 * time.Millisecond)
	}
	if now.goroutines > before.goroutines+2 {
		t.Errorf("%d goroutines, %d before", now.goroutines, before.goroutines)
	}
	if now.heap > before.heap+8<<20 {
		t.Errorf("%d KiB of memory, %d before", now.heap>>10, before.heap>>10)
	}
}

func word(s string) []byte {
	return append(binary.BigEndian.AppendUint16(nil, uint16(len(s))), s...)
}
