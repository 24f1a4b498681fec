package app

import (
	"context"
	"sync"
	"time"

	"flitch/ingest"
	"flitch/ingest/mqtt"
	"flitch/process/engine"
)

// While nothing can be stored nothing is acknowledged, and an outside broker sends no more once
// that much is under way (mosquitto: 20 messages, unless it is told otherwise). What comes after
// is kept there, and unseen here. So while the disk fails the same topics are heard a second
// time, without a session: for evaluation in memory alone.

// Of the second ear: proposals.
const (
	copyWaits      = 2 * time.Second // for the first connection to bring the same
	copiesMost     = 4096            // that wait
	acknowledgedBy = 2 * time.Second // is what was held and is stored
)

// A secondEar keeps copies for a moment, and hands on what the first connection does not bring.
type secondEar struct {
	clock   Clock
	brought func(topic string) time.Time // when the first connection brought something of a topic
	needed  func() bool                  // something waits to be stored
	hand    func(ingest.Message)

	mu    sync.Mutex
	waits []ingest.Message
}

// copies listens while the disk fails, until ctx ends.
func (a *App) copies(ctx context.Context) error {
	copies, err := ingest.NewCopies(mappings(a.cfg.Probes), a.clock, a.engine.Heard)
	if err != nil {
		return err
	}
	e := &secondEar{clock: a.clock, brought: a.overheard.LastOf, needed: func() bool { return a.intake.Unstored() > 0 }, hand: copies.Hear}
	var line *mqtt.Overhearer // nil: the disk works
	hangUp := func() {
		if line != nil {
			line.Close()
		}
		line = nil
		e.forget()
	}
	defer func() { hangUp() }()
	for {
		var soon <-chan time.Time
		if line != nil {
			soon = Wall{}.After(copyWaits / 2)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-soon:
			e.pass()
		case <-a.diskTurned:
			switch fails := a.faults.Has(engine.FaultDisk); {
			case !fails:
				hangUp()
				a.askAgain(ctx)
			case line == nil:
				line = a.listenAgain(e)
			}
		}
	}
}

// listenAgain subscribes to what the intake reads, without a session; nil: that cannot be done.
func (a *App) listenAgain(e *secondEar) *mqtt.Overhearer {
	conf := a.outsideBroker()
	conf.ClientID += "-copies"
	line, err := mqtt.Overhear(conf, a.intake.Topics(), e.hear)
	if err != nil {
		a.log.Error("readings are evaluated only as far as the broker sends them without an acknowledgement", "err", err)
	}
	return line
}

// hear keeps a copy for a moment.
func (e *secondEar) hear(topic string, payload []byte, retained bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if len(e.waits) < copiesMost {
		e.waits = append(e.waits, ingest.Message{Topic: topic, Payload: payload, Retained: retained, Received: e.clock.Now()})
	}
}

// pass hands on what has waited. Not what the first connection brings as well: a copy without a
// time of its own would pass for a second reading, and confirm a spike. And nothing once what was
// held is stored: then the readings of the first are evaluated.
func (e *secondEar) pass() {
	for _, m := range e.ripe() {
		if e.needed() && e.brought(m.Topic).Before(m.Received.Add(-copyWaits)) {
			e.hand(m)
		}
	}
}

// forget drops what waits: the disk is back.
func (e *secondEar) forget() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.waits = nil
}

// ripe takes out what has waited long enough.
func (e *secondEar) ripe() (out []ingest.Message) {
	e.mu.Lock()
	defer e.mu.Unlock()
	now, n := e.clock.Now(), 0
	for n < len(e.waits) && now.Sub(e.waits[n].Received) >= copyWaits {
		n++
	}
	out, e.waits = e.waits[:n], e.waits[n:]
	return out
}

// askAgain has the broker send what there was no room for in memory. It has that still, and sends
// it on a new connection only.
func (a *App) askAgain(ctx context.Context) {
	if !a.tooMuch.Swap(false) {
		return
	}
	select {
	case <-ctx.Done():
	case <-Wall{}.After(acknowledgedBy):
		a.subscriber.Again()
	}
}
