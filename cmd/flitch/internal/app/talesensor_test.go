package app

import (
	"fmt"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

// read publishes a reading of this moment and waits for its acknowledgement.
func (s *tale) read(probe string, value float64) step {
	return func() error { return s.say(probe, readingOf(s.now, value), nameOf(probe, s.now)) }
}

// readingOf is a payload.
func readingOf(at time.Time, value float64) string {
	return fmt.Sprintf(`{"t":%d,"v":%.1f}`, at.UnixMilli(), value)
}

// nameOf is what a reading is known by.
func nameOf(probe string, at time.Time) string { return fmt.Sprintf("%s %d", probe, at.UnixMilli()) }

// say publishes with quality of service 1. The key names what was acknowledged.
func (s *tale) say(probe, payload, key string) (err error) {
	if s.away != nil {
		return s.leave(probe, payload, key)
	}
	if s.out == nil {
		if s.out, err = mqtttest.Dial(s.life.broker, "sensor"); err != nil {
			return err
		}
	}
	if s.early {
		if s.acked[key] != "" {
			return nil // such a gateway does not send it again
		}
		s.acked[key] = payload
	}
	if err := s.out.Send(mqtttest.Packet("shop/"+probe, []byte(payload), 1, 7)); err != nil {
		return err
	}
	if _, err := s.out.Puback(30 * time.Second); err != nil {
		return err
	}
	if s.count.Here("acknowledged, and the sensor has not heard it") {
		return errKilled
	}
	s.acked[key] = payload
	if s.count.Here("acknowledged, and the sensor knows") {
		return errKilled
	}
	return nil
}
