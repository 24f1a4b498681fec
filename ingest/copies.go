package ingest

import "flitch/process"

// Copies reads messages that come a second time, over a connection of their own, while the first
// one stands still: a broker sends only so much without an acknowledgement, and what cannot be
// stored is not acknowledged. They are evaluated and never stored: the first connection brings
// them when it goes on.
type Copies struct {
	routes *directory // its own: what the intake knows of a sensor's times stays as it is
	clock  Clock
	heard  listener
}

// NewCopies prepares to hear copies. The error lists every mapping that cannot be read.
func NewCopies(mappings []Mapping, clock Clock, heard func(readings []process.Reading, stored bool)) (*Copies, error) {
	routes, err := newDirectory(mappings)
	if err != nil {
		return nil, err
	}
	return &Copies{routes: routes, clock: clock, heard: heard}, nil
}

// Hear judges a message as the intake does and hands its readings on. One that the broker had kept
// is passed over: it is of no time that can be evaluated. It is called from one goroutine.
func (c *Copies) Hear(m Message) {
	if m.Retained {
		return
	}
	if m.Received.IsZero() {
		m.Received = c.clock.Now()
	}
	m.Received, m.Ack = stamped(m.Received), nil
	it := decoded(m, c.routes.of(m.Topic))
	c.routes.protocols.take(m, it)
	b := &batch{}
	_ = b.add(it, func(probe string, ms int64) (bool, error) { return b.holds(probe, ms), nil }) // it does not fail: nobody is asked
	if len(b.readings) > 0 {
		c.heard(b.readings, false)
	}
}
