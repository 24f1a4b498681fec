package main

import (
	"errors"
	"fmt"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
)

// A courier is a device that keeps what it measured until it is acknowledged. When nothing comes
// back it gives its connection up, makes another, and begins again at the first that was not.
type courier struct {
	probe string // its topic is shop/PROBE
	since time.Time
	dial  func() (net.Conn, error)

	thenAt int // the reading after whose acknowledgement it calls then, if there is one
	then   func()

	mu     sync.Mutex
	acked  map[int]bool // of the readings from 0 on
	sent   int          // readings that it ever put on a connection
	again  int          // those that were put on one before
	gaveUp int          // connections
}

// couriers are n devices, one for each probe of probesNamed.
func couriers(n int, dial func() (net.Conn, error)) (out []*courier) {
	for i := range n {
		out = append(out, &courier{probe: fmt.Sprintf("p%d", i), since: time.Now().Add(-30 * time.Second).Truncate(time.Second), dial: dial, acked: map[int]bool{}})
	}
	return out
}

// name is what a reading is called in its payload, which nobody but these tests reads.
func (c *courier) name(i int) string { return fmt.Sprintf("%s-%d", c.probe, i) }

func (c *courier) packet(i int) []byte {
	return mqtttest.Packet("shop/"+c.probe, fmt.Appendf(nil, `{"t":%q,"v":3.%d,"n":%q}`, measured(i, c.since), i%10, c.name(i)), 1, mqtttest.PacketID(i))
}

// carryAll hands over all readings of all couriers up to a number, and returns when the last is acknowledged.
func carryAll(t *testing.T, all []*courier, to int) (done <-chan struct{}) {
	over := make(chan struct{})
	var group sync.WaitGroup
	for _, c := range all {
		group.Go(func() {
			if err := c.carry(to); err != nil {
				t.Error(err)
			}
		})
	}
	go func() { group.Wait(); close(over) }()
	return over
}

// The quiet after which a device gives a connection up: it begins short, and is doubled each
// time, so that a machine that is slow is waited for.
const (
	firstQuiet = time.Second
	mostQuiet  = 30 * time.Second
)

func (c *courier) carry(to int) error {
	quiet, window := firstQuiet, 10
	var err error
	for moved := time.Now(); c.first() < to; {
		if time.Since(moved) > 5*time.Minute {
			return fmt.Errorf("%s: after %d of %d: %w", c.probe, c.first(), to, err)
		}
		before := c.first()
		err = c.connection(to, window, quiet)
		if err != nil {
			c.mu.Lock()
			c.gaveUp++
			c.mu.Unlock()
			<-time.After(20 * time.Millisecond) // a broker that is not there refuses at once
		}
		if c.first() == before {
			quiet = min(2*quiet, mostQuiet)
		} else {
			quiet, moved = firstQuiet, time.Now()
		}
	}
	return nil
}

// connection is one of them, until all is acknowledged or it fails.
func (c *courier) connection(to, window int, quiet time.Duration) error {
	conn, err := c.dial()
	if err != nil {
		return err
	}
	if err := conn.SetDeadline(time.Now().Add(quiet)); err != nil {
		return err
	}
	r, err := mqtttest.Over(conn, c.probe)
	if err != nil {
		return err
	}
	defer r.Close()
	for next := c.first(); c.first() < to; {
		for ; next < min(to, c.first()+window); next++ {
			if err := errors.Join(conn.SetWriteDeadline(time.Now().Add(quiet)), r.Send(c.packet(next))); err != nil {
				return err
			}
			c.mu.Lock()
			if next < c.sent {
				c.again++
			}
			c.sent = max(c.sent, next+1)
			c.mu.Unlock()
		}
		id, err := r.Puback(quiet)
		if err != nil {
			return err
		}
		c.mu.Lock()
		c.acked[int(id)-1] = true
		c.mu.Unlock()
		if c.then != nil && int(id)-1 == c.thenAt {
			c.then()
		}
	}
	return nil
}

// first is the first reading that is not acknowledged.
func (c *courier) first() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := len(c.acked)
	for n > 0 && !c.acked[n-1] {
		n--
	}
	for c.acked[n] {
		n++
	}
	return n
}

// givenUp is how many connections it gave up.
func (c *courier) givenUp() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.gaveUp
}

// tally adds up what couriers did.
func tally(all []*courier) (acked, again, gaveUp int) {
	for _, c := range all {
		c.mu.Lock()
		acked, again, gaveUp = acked+len(c.acked), again+c.again, gaveUp+c.gaveUp
		c.mu.Unlock()
	}
	return acked, again, gaveUp
}

// waitFor asks until it is so; a minute is the patience with a busy machine, and more where
// something is waited for that takes its time.
func waitFor(t *testing.T, patience time.Duration, what string, so func() bool) {
	t.Helper()
	for deadline := time.Now().Add(patience); !so(); {
		if time.Now().After(deadline) {
			t.Fatalf("after %v still not: %s", patience, what)
		}
		<-time.After(5 * time.Millisecond)
	}
}

// rows counts the stored readings of each probe by the time that came with them.
func (l *larder) rows() map[string]map[string]int {
	l.t.Helper()
	rows := map[string]map[string]int{}
	l.eachReading(func(r process.Reading) {
		if rows[r.Probe] == nil {
			rows[r.Probe] = map[string]int{}
		}
		rows[r.Probe][r.Device.UTC().Format(time.RFC3339Nano)]++ // measured by it too, unless it came behind a newer one
	})
	return rows
}

// A claim is a reading of which somebody says that it has to be stored, once.
type claim struct{ probe, measured, name string }

// owed are the claims of couriers: all that was acknowledged.
func owed(all []*courier) (out []claim) {
	for _, c := range all {
		for i := range c.sent {
			if c.acked[i] {
				out = append(out, claim{c.probe, measured(i, c.since), c.name(i)})
			}
		}
	}
	return out
}

// against holds what is owed against what is stored, and says what is missing, what is there
// more than once, and what is there that no courier ever sent.
func against(all []*courier, owed []claim, rows map[string]map[string]int) (faults []string) {
	for _, o := range owed {
		if n := rows[o.probe][o.measured]; n != 1 {
			faults = append(faults, fmt.Sprintf("%s is stored %d times", o.name, n))
		}
	}
	for _, c := range all {
		sent := map[string]bool{}
		for i := range c.sent {
			sent[measured(i, c.since)] = true
		}
		for at, n := range rows[c.probe] {
			if !sent[at] {
				faults = append(faults, fmt.Sprintf("%s: a reading of %s, which was never sent", c.probe, at))
			}
			if n > 1 {
				faults = append(faults, fmt.Sprintf("%s: the reading of %s is stored %d times", c.probe, at, n))
			}
		}
	}
	return faults
}

// settle looks at what is on disk, and fails the test for each fault. As a control it then looks
// once more, at the same without one reading, and has to find that.
func settle(t *testing.T, l *larder, all []*courier, owed []claim) {
	t.Helper()
	rows := l.rows()
	if len(owed) == 0 {
		t.Fatal("nothing was acknowledged: that proves nothing")
	}
	faults := against(all, owed, rows)
	if len(faults) > 0 {
		t.Errorf("%d faults: %s", len(faults), strings.Join(faults[:min(10, len(faults))], "; "))
	}
	lost := owed[len(owed)/2]
	delete(rows[lost.probe], lost.measured)
	if n := len(against(all, owed, rows)) - len(faults); n != 1 {
		t.Errorf("one reading less, and %d more faults are found", n)
	}
}
