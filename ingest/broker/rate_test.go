package broker_test

import (
	"sync/atomic"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt/mqtttest"
)

// impatient is the clock of the machine, but nobody waits by it: it adds up what would
// have been waited.
type impatient struct {
	wall
	asked *atomic.Int64
}

func (i impatient) After(d time.Duration) <-chan time.Time {
	if d > 10*time.Minute { // the watch for stalled clients
		return nil
	}
	i.asked.Add(int64(d))
	now := make(chan time.Time, 1)
	now <- time.Now()
	return now
}

// A flood is held up and not lost: each packet is on disk and acknowledged.
func TestAFloodIsHeldUpAndNotLost(t *testing.T) {
	s, clock := newShelf(t), impatient{asked: new(atomic.Int64)}
	done := newStored()
	in := start(t, s, mappings(), ingest.Options{Observe: done})
	b, err := broker.New(broker.Config{Listen: "127.0.0.1:0", MaxRate: 10, StallLimit: time.Hour}, in, clock, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	defer closeNow(t, b, in)
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	r, err := mqtttest.Dial(b.Addr(), "flood")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	send := func(from, n int) {
		t.Helper()
		packets := make([][]byte, n)
		for i := range packets {
			packets[i] = mqtttest.Packet("alder/slow", []byte("4"), 1, mqtttest.PacketID(i))
		}
		if err := r.Flood(packets, 20); err != nil {
			t.Fatal(err)
		}
	}
	send(0, 40)
	if got := clock.asked.Load(); got != 0 {
		t.Errorf("forty at once at ten a second waited %s", time.Duration(got))
	}
	send(40, 500)
	done.Wait(t, 540, 0)
	if got := time.Duration(clock.asked.Load()); got < time.Minute {
		t.Errorf("five hundred more waited %s", got)
	}
}
