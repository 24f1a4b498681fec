package baddisk

import (
	"context"
	"fmt"
	"sync"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

// A sensor publishes readings of one probe with QoS 1 by a clock that is right, and
// sends again, on every new connection, what was not acknowledged.
type sensor struct {
	addr, probe string
	value       func(n int) float64
	every       time.Duration // between two groups
	group       int           // readings in flight at most

	mu      sync.Mutex
	times   []int64 // device time of reading n, ms; all different
	acked   map[int]time.Time
	waiting int // readings below this are acknowledged, all of them
}

func (s *sensor) run(ctx context.Context) {
	for ctx.Err() == nil {
		conn, err := mqtttest.Dial(s.addr, "sensor-"+s.probe)
		if err != nil {
			pause(ctx, 20*time.Millisecond)
			continue
		}
		stop := context.AfterFunc(ctx, conn.Close)
		for ctx.Err() == nil && s.turn(conn) == nil {
			pause(ctx, max(s.every, time.Until(s.newest())))
		}
		stop()
		conn.Close()
	}
}

// turn sends a group and waits for its acknowledgements.
func (s *sensor) turn(conn *mqtttest.Raw) error {
	ids := map[uint16]int{}
	for _, n := range s.next() {
		id := mqtttest.PacketID(n)
		ids[id] = n
		payload := fmt.Appendf(nil, `{"t":%d,"v":%.1f}`, s.at(n).UnixMilli(), s.value(n))
		if err := conn.Send(mqtttest.Packet("shop/"+s.probe, payload, 1, id)); err != nil {
			return err
		}
	}
	for len(ids) > 0 {
		id, err := conn.Puback(patience)
		if err != nil {
			return err
		}
		n, known := ids[id]
		if !known {
			return fmt.Errorf("acknowledgement of packet %d, which was not sent", id)
		}
		delete(ids, id)
		s.mark(n)
	}
	return nil
}

// next chooses what is not acknowledged, then new readings.
func (s *sensor) next() (out []int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for n := s.waiting; n < len(s.times); n++ {
		if _, ok := s.acked[n]; !ok {
			out = append(out, n)
		}
	}
	for len(out) < s.group {
		at := time.Now().UnixMilli()
		if n := len(s.times); n > 0 {
			at = max(at, s.times[n-1]+2)
		}
		s.times = append(s.times, at)
		out = append(out, len(s.times)-1)
	}
	return out
}

func (s *sensor) at(n int) time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return time.UnixMilli(s.times[n])
}

func (s *sensor) newest() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return time.UnixMilli(s.times[len(s.times)-1])
}

func (s *sensor) mark(n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.acked[n] = time.Now()
	for _, ok := s.acked[s.waiting]; ok; _, ok = s.acked[s.waiting] {
		s.waiting++
	}
}

// acknowledged are the times of the newest readings whose acknowledgement was seen, at
// most so many, and how many there were in all.
func (s *sensor) acknowledged(most int) (out []time.Time, all int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for n := len(s.times) - 1; n >= 0 && len(out) < most; n-- {
		if _, ok := s.acked[n]; ok {
			out = append(out, time.UnixMilli(s.times[n]))
		}
	}
	return out, len(s.acked)
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}
