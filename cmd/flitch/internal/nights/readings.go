package nights

import (
	"strconv"
	"time"

	"flitch/process"
)

// readings lets the world run to a time and returns what arrives at the house until
// then: what a silent probe says is lost, what one without wifi says comes later.
func (s *shop) readings(to time.Time) []process.Reading {
	s.Advance(to)
	out := s.ready
	s.ready = nil
	for _, sample := range s.Samples() {
		value, err := strconv.ParseFloat(string(sample.Payload), 64)
		if err != nil {
			continue
		}
		name := sample.Topic
		if name == "core-a" && s.stuck != nil {
			value = *s.stuck
		}
		if name == "alder-door" || name == "alder-mains" {
			value = float64(int(value + 0.5))
		}
		r := process.Reading{Probe: name, Measured: sample.At, Received: sample.At, Device: sample.At, Value: value}
		switch {
		case s.silent[name]:
		case s.heldBack[name]:
			s.waiting = append(s.waiting, r)
		default:
			out = append(out, r)
		}
	}
	return out
}

// back sends what waited for the wifi.
func (s *shop) back(now time.Time) {
	for _, r := range s.waiting {
		r.Received = now
		s.ready = append(s.ready, r)
	}
	s.waiting, s.heldBack = nil, map[string]bool{}
}
