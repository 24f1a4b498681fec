package engine

import (
	"flitch/alerts"
	"flitch/process"
)

// one runs a single input through every place and batch it concerns.
func (e *Engine) one(in process.Input) {
	switch in.Kind {
	case process.InputReading:
		e.reading(in)
	case process.InputCommand:
		e.command(in)
	case process.InputTick:
		e.everyone(in)
		e.tellFaults(in)
		e.board.tick(in.At, e.events)
	}
}

func (e *Engine) reading(in process.Input) {
	for _, p := range e.places {
		if p.Has(in.Reading.Probe) {
			e.stepPlace(p, in)
		}
	}
	for _, b := range e.open {
		if b.Uses(in.Reading.Probe) {
			e.stepBatch(b, in)
		}
	}
}

func (e *Engine) everyone(in process.Input) {
	for _, p := range e.places {
		e.stepPlace(p, in)
	}
	for _, b := range e.open {
		e.stepBatch(b, in)
	}
}

func (e *Engine) stepPlace(p *process.Place, in process.Input) {
	e.found = process.StepPlace(p, in, e.found[:0])
	e.pending.places[p.Name] = p
	e.signals()
}

func (e *Engine) stepBatch(b *process.Batch, in process.Input) {
	e.found = process.Step(b, in, e.found[:0])
	e.pending.batches[b.ID] = b
	e.signals()
}

// signals hands what was found to the alarm machine.
func (e *Engine) signals() {
	for _, f := range e.found {
		e.board.signal(f, e.events)
	}
}

// command applies what a person said. The log holds only commands that were
// checked; one that no longer fits after a crash in between is checked again.
func (e *Engine) command(in process.Input) {
	c := in.Command
	switch c.Kind {
	case process.CommandAcknowledge:
		e.acknowledge(in)
		return
	case process.CommandFault:
		e.takeFault(in)
		return
	case process.CommandNew:
		if e.batch(c.Batch) != nil || process.Check(nil, c, c.Typed) != nil {
			return
		}
		b := process.Start(in)
		e.add(b)
		e.pending.batches[b.ID] = b
		e.pending.note(lineOf(c))
		e.occupy()
		return
	}
	b := e.batch(c.Batch)
	if b == nil || process.Check(b, c, c.Typed) != nil {
		return
	}
	e.stepBatch(b, in)
	e.pending.note(lineOf(c))
	if !b.Open() {
		e.remove(b.ID)
	}
	e.occupy()
}

func (e *Engine) acknowledge(in process.Input) {
	c := in.Command
	en, a, ok := e.board.find(c.Alarm)
	if !ok {
		return
	}
	e.events(en, a, alerts.Acknowledge(en, a, c.By, c.At))
}

// occupy tells each place whether a batch is inside.
func (e *Engine) occupy() {
	for _, p := range e.places {
		p.Occupied = false
		for _, b := range e.open {
			p.Occupied = p.Occupied || b.Place() == p.Name
		}
		e.pending.places[p.Name] = p
	}
}
