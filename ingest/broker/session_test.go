package broker

import (
	"errors"
	"io"
	"net"
	"testing"
	"testing/synctest"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"

	"flitch/ingest/ingesttest"
)

type wall = ingesttest.Wall

// piped returns a session whose client reads from the other end of a pipe, which
// has no buffer: a client that does not read blocks the writer at once.
func piped() (*session, net.Conn) {
	server := mochi.New(&mochi.Options{})
	ours, theirs := net.Pipe()
	return newSession(server.NewClient(ours, "test", "alder", false), wall{}, maxRate), theirs
}

// Handing over an acknowledgement never blocks, and none is lost or re-ordered.
func TestAcknowledgeDoesNotBlock(t *testing.T) {
	s, client := piped()
	go s.run()
	for id := range uint16(1000) {
		s.enter()
		s.acknowledge(id + 1) // nobody reads yet
	}
	for want := range uint16(1000) {
		var p [4]byte
		if _, err := io.ReadFull(client, p[:]); err != nil {
			t.Fatal(err)
		}
		if p[0] != 0x40 || p[1] != 2 || uint16(p[2])<<8|uint16(p[3]) != want+1 {
			t.Fatalf("acknowledgement %d is % x", want+1, p)
		}
	}
	s.drop(io.EOF)
	<-s.done
}

// A client that never reads is dropped once more acknowledgements wait than it can
// have packets under way.
func TestDeafClientIsDropped(t *testing.T) {
	s, _ := piped()
	go s.run()
	for range 2*packetIDs + 2 { // the first write takes what was there
		s.enter()
		s.acknowledge(1)
		if s.ctx.Err() != nil {
			break
		}
	}
	<-s.done
	if !errors.Is(s.cl.StopCause(), errDeaf) {
		t.Errorf("dropped because of %v", s.cl.StopCause())
	}
}

// Stalled is no progress while something waits, however long nothing waited.
func TestStalled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &session{clock: wall{}}
		limit := 30 * time.Second
		check := func(want bool) {
			t.Helper()
			if got := s.stalled(time.Now(), limit); got != want {
				t.Errorf("stalled %t, want %t", got, want)
			}
		}
		time.Sleep(time.Hour)
		check(false) // idle
		s.enter()
		s.enter()
		time.Sleep(limit)
		check(false)
		time.Sleep(time.Second)
		check(true)
		s.leave() // one of two stored
		check(false)
		time.Sleep(limit + time.Second)
		check(true)
		s.leave()
		check(false)
	})
}

func TestKeepAlive(t *testing.T) {
	for _, c := range []struct{ asked, want uint16 }{{0, 300}, {60, 60}, {300, 300}, {301, 300}, {65535, 300}} {
		if got := heldKeepAlive(c.asked, 5*time.Minute); got != c.want {
			t.Errorf("asked %d, got %d, want %d", c.asked, got, c.want)
		}
	}
}
