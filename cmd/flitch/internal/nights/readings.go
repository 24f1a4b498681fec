package nights

import (
	"math"
	"slices"
	"strconv"
	"time"

	"flitch/ingest/signal"
	"flitch/ingest/sim"
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
		r := s.reading(sample, value)
		switch {
		case s.silent[r.Probe]:
		case s.heldBack[r.Probe]:
			s.waiting = append(s.waiting, r)
		default:
			out = append(out, r)
		}
	}
	return out
}

// reading is what the house makes of a sample that comes at once.
func (s *shop) reading(sample sim.Sample, value float64) process.Reading {
	name := sample.Topic
	if name == "alder-door" || name == "alder-mains" {
		value = float64(int(value + 0.5))
	}
	if step := coarse[name]; step > 0 {
		value = math.Round(value/step) * step
	}
	if says, always := s.says[name]; always {
		value = says
	}
	s.last[name] = value
	r := process.Reading{Probe: name, Measured: sample.At, Received: sample.At, Device: sample.At, Value: value}
	if s.from1970 && slices.Contains(ofAlder, name) { // as the way in dates what it does not believe
		r.Device, r.Quality, r.Reason = time.Unix(0, 0).UTC(), process.Suspect, "device clock not believed"
	}
	if reason, ok := signal.Check(value, string(s.probes[name].Placed.Placement)); !ok {
		r.Quality, r.Reason = process.Bad, reason
	}
	return r
}

// coarse are the steps of those that do not tell tenths.
var coarse = map[string]float64{"birch-air": 0.5, "loft-rh": 1}

// standStill lets a probe say for ever what it said last.
func (s *shop) standStill(name string) { s.says[name] = s.last[name] }

// hold lets what probes say wait.
func (s *shop) hold(names []string) {
	for _, name := range names {
		s.heldBack[name] = true
	}
}

// back sends what waited for the wifi, in its order. What has no time that is believed
// is dated by when it comes, each a millisecond later, as the way in does.
func (s *shop) back(now time.Time) {
	for i, r := range s.waiting {
		r.Received = now
		if r.Quality == process.Suspect {
			r.Measured = now.Add(time.Duration(i) * time.Millisecond)
		}
		s.ready = append(s.ready, r)
	}
	s.waiting = nil
	clear(s.heldBack)
}
