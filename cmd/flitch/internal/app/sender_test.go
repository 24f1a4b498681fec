package app

import (
	"context"
	"fmt"
	"sync"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

const (
	sendWindow = 20 // unacknowledged readings at most
	sendEvery  = 2  // ms between two readings of a probe
	crossing   = 20 // core readings below the target, then as many above
)

// A sender publishes numbered readings of one probe with QoS 1 and sends again,
// after every broken connection, what was not acknowledged: what a good sensor
// does. Its clock is right: no reading is ahead of it for long.
type sender struct {
	addr  string
	probe string
	value func(n int) float64
	mu    sync.Mutex
	times []int64 // device time of reading n, ms; all different
	acked map[int]bool
	again int // packets sent more than once
}

// senders publish at the same time: the core that crosses its target again and
// again, and two probes that only have to be stored.
func senders(addr string) []*sender {
	steady := func(c float64) func(int) float64 { return func(int) float64 { return c } }
	core := func(n int) float64 { return 50 + float64(n/crossing%2)*4 }
	return []*sender{
		{addr: addr, probe: "core", value: core, acked: map[int]bool{}},
		{addr: addr, probe: "chamber", value: steady(60), acked: map[int]bool{}},
		{addr: addr, probe: "slow", value: steady(3), acked: map[int]bool{}},
	}
}

// run publishes until ctx ends, then goes on until everything is acknowledged or
// late ends.
func (s *sender) run(ctx, late context.Context) {
	for late.Err() == nil && (ctx.Err() == nil || s.unacked() > 0) {
		conn, err := mqtttest.Dial(s.addr, "sender-of-"+s.probe)
		if err != nil {
			pause(late, 5*time.Millisecond)
			continue
		}
		for first := true; late.Err() == nil && (ctx.Err() == nil || s.unacked() > 0); first = false {
			if err := s.window(conn, s.next(ctx.Err() == nil, first)); err != nil {
				break
			}
			pause(late, s.ahead())
		}
		conn.Close()
	}
}

// next chooses what to send: what is not acknowledged, then new readings.
func (s *sender) next(more, first bool) []int {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []int
	for n := max(0, len(s.times)-2*sendWindow); n < len(s.times) && len(out) < sendWindow; n++ {
		if !s.acked[n] {
			out = append(out, n)
		}
	}
	if first {
		s.again += len(out)
	}
	for more && len(out) < sendWindow {
		at := time.Now().UnixMilli()
		if n := len(s.times); n > 0 {
			at = max(at, s.times[n-1]+sendEvery)
		}
		s.times = append(s.times, at)
		out = append(out, len(s.times)-1)
	}
	return out
}

// window sends the readings and waits for the acknowledgement of each.
func (s *sender) window(conn *mqtttest.Raw, readings []int) error {
	ids := map[uint16]int{}
	for _, n := range readings {
		id := mqtttest.PacketID(n)
		ids[id] = n
		payload := fmt.Appendf(nil, `{"t":%d,"v":%.1f}`, s.time(n), s.value(n))
		if err := conn.Send(mqtttest.Packet("shop/"+s.probe, payload, 1, id)); err != nil {
			return err
		}
	}
	for range readings {
		id, err := conn.Puback(10 * time.Second)
		if err != nil {
			return err
		}
		n, known := ids[id]
		if !known {
			return fmt.Errorf("an acknowledgement of packet %d, which was not sent", id)
		}
		s.mark(n)
	}
	return nil
}

func (s *sender) time(n int) int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.times[n]
}

// ahead is how far the device time of the newest reading lies before now.
func (s *sender) ahead() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.times) == 0 {
		return 0
	}
	return time.Until(time.UnixMilli(s.times[len(s.times)-1]))
}

func (s *sender) mark(n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.acked[n] = true
}

func (s *sender) unacked() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.times) - len(s.acked)
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}
