package sim

import (
	"math/rand/v2"
	"strconv"
	"time"

	"flitch/process"
)

// A Unit of a payload.
type Unit string

// The units probes speak.
const (
	Celsius    Unit = "C"
	Fahrenheit Unit = "F"
)

// A Shape of a payload.
type Shape string

// The shapes: a bare number, as 3.4; or a small object,
// as {"time":"2031-07-14T09:30:00Z","temperature":3.4}.
const (
	Bare   Shape = "bare"
	Object Shape = "object"
)

// ValuePointer and TimePointer return where value and time are in the payload, as
// JSON pointers (RFC 6901); empty when the whole payload is the value, or when
// there is no time. Times are RFC 3339, UTC.
func (s Shape) ValuePointer() string {
	if s == Object {
		return "/temperature"
	}
	return ""
}

// TimePointer: see ValuePointer.
func (s Shape) TimePointer() string {
	if s == Object {
		return "/time"
	}
	return ""
}

// A Probe is one measuring point that publishes.
type Probe struct {
	Placed process.PlacedProbe // name, place, placement, piece, interval and uncertainty
	Topic  string
	Unit   Unit
	Shape  Shape
	Lag    time.Duration  // of the probe itself: 45 min for a buffered one
	Noise  float64        // standard deviation of one reading, K
	Off    float64        // what it has drifted by, K; positive reads high
	Reads  func() float64 // what it is in, °C

	lag    lag
	rng    *rand.Rand
	silent bool
}

// Silence switches the probe off. Speak switches it on again, at rest in what it
// lies in now.
func (p *Probe) Silence() { p.silent = true }

// Speak: see Silence.
func (p *Probe) Speak() {
	p.silent = false
	p.lag.start(p.Reads())
}

func (p *Probe) start(seed uint64) {
	p.rng = source(seed, "probe "+p.Placed.Probe)
	p.lag = lag{tau: p.Lag.Seconds()}
	p.lag.start(p.Reads())
}

// sample returns what the probe publishes at the time.
func (p *Probe) sample(at time.Time) Sample {
	value := p.lag.out + p.Off + p.Noise*p.rng.NormFloat64()
	if p.Unit == Fahrenheit {
		value = value*9/5 + 32
	}
	return Sample{Topic: p.Topic, Payload: p.payload(value, at), At: at}
}

// payload writes the value to 0.1 of its unit, which is the resolution of the probe.
func (p *Probe) payload(value float64, at time.Time) []byte {
	number := strconv.FormatFloat(value, 'f', 1, 64)
	if number == "-0.0" {
		number = "0.0"
	}
	if p.Shape == Bare {
		return []byte(number)
	}
	return []byte(`{"time":"` + at.UTC().Format(time.RFC3339) + `","temperature":` + number + `}`)
}
