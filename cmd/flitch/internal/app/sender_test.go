package app

import (
	"context"
	"fmt"
	"sync"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

const (
	sendWindow = 20               // unacknowledged readings at most
	sendPause  = time.Millisecond // between two windows
	crossing   = 30               // readings below the core target, then as many above
)

// A sender publishes numbered core readings with QoS 1 and sends again, after
// every broken connection, what was not acknowledged: what a good sensor does.
type sender struct {
	addr  string
	mu    sync.Mutex
	times []int64 // device time of reading n, ms; all different
	acked map[int]bool
	again int // packets sent more than once
}

// run publishes until ctx ends, then goes on until everything is acknowledged or
// late ends.
func (s *sender) run(ctx, late context.Context) {
	for late.Err() == nil && (ctx.Err() == nil || s.unacked() > 0) {
		conn, err := mqtttest.Dial(s.addr, "numbered-readings")
		if err != nil {
			pause(late, 5*time.Millisecond)
			continue
		}
		for first := true; late.Err() == nil && (ctx.Err() == nil || s.unacked() > 0); first = false {
			if err := s.window(conn, s.next(ctx.Err() == nil, first)); err != nil {
				break
			}
			pause(late, sendPause)
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
			at = max(at, s.times[n-1]+1)
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
		core := 50.0
		if n/crossing%2 == 1 {
			core = 54.0
		}
		id := mqtttest.PacketID(n)
		ids[id] = n
		payload := fmt.Appendf(nil, `{"t":%d,"v":%.1f}`, s.time(n), core)
		if err := conn.Send(mqtttest.Packet("shop/core", payload, 1, id)); err != nil {
			return err
		}
	}
	for range readings {
		id, err := conn.Puback(10 * time.Second)
		if err != nil {
			return err
		}
		s.mark(ids[id])
	}
	return nil
}

func (s *sender) time(n int) int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.times[n]
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
