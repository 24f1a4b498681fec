package engine

import (
	"time"

	"flitch/alerts"
	"flitch/process"
)

// one runs a single input through every place and batch it concerns.
func (h *House) one(in process.Input) {
	switch in.Kind {
	case process.InputReading:
		h.reading(in)
	case process.InputCommand:
		h.command(in)
	case process.InputTick:
		h.everyone(in)
		h.findUnconfigured()
		h.endUnconfigured(in.At)
		h.tellFaults(in)
		h.endShelves(in.At)
		h.board.tick(in.At, h.events)
		h.tickPeople(in.At)
	}
}

func (h *House) reading(in process.Input) {
	for _, p := range h.places {
		if p.Has(in.Reading.Probe) {
			h.stepPlace(p, in)
		}
	}
	for _, b := range h.open {
		switch {
		case !b.Uses(in.Reading.Probe):
		case in.Reading.IsImported():
			h.takeImported(b, in)
		default:
			h.stepBatch(b, in)
		}
	}
}

func (h *House) everyone(in process.Input) {
	for _, p := range h.places {
		h.stepPlace(p, in)
	}
	for _, b := range h.open {
		h.stepBatch(b, in)
	}
}

func (h *House) stepPlace(p *process.Place, in process.Input) {
	h.found = process.StepPlace(p, in, h.found[:0])
	h.pending.places[p.Name] = p
	h.signals()
}

func (h *House) stepBatch(b *process.Batch, in process.Input) {
	if seen := h.seen[b.ID]; seen != nil {
		h.stepSeen(b, seen, in)
	} else {
		h.found = process.Step(b, in, h.found[:0])
	}
	h.pending.batches[b.ID] = b
	h.signals()
}

// signals hands what was found to the alarm machine.
func (h *House) signals() {
	for _, f := range h.found {
		h.board.signal(f, h.events)
	}
}

// command applies what a person said. The log holds only commands that were
// checked; one that no longer fits after a crash in between is checked again.
func (h *House) command(in process.Input) {
	c := in.Command
	switch c.Kind {
	case process.CommandAcknowledge:
		h.acknowledge(in)
		return
	case process.CommandFault:
		h.takeFault(in)
		return
	case process.CommandVital:
		h.takeVital(in)
		return
	case process.CommandSensor:
		h.takeSensor(in)
		return
	case process.CommandChecked:
		h.takeCheck(in)
		return
	case process.CommandUnit:
		h.takeUnit(in)
		return
	case process.CommandDuty, process.CommandShelve, process.CommandOut, process.CommandJudge:
		h.takePeople(c)
		return
	case process.CommandStruck:
		if h.takeBack(c) {
			return
		}
	case process.CommandNew:
		h.begin(in)
		return
	}
	b := h.batch(c.Batch)
	if b == nil {
		b = h.closed[c.Batch]
	}
	if b == nil || process.Check(b, c, c.Typed) != nil {
		return
	}
	if c.Strikes != "" {
		h.strike(b, in)
		return
	}
	h.stepBatch(b, in)
	h.pending.note(lineOf(c))
	h.noteDoses(b, c)
	if !b.Open() {
		h.remove(b.ID)
	}
	h.occupy()
}

// begin starts a batch.
func (h *House) begin(in process.Input) {
	c := in.Command
	if h.batch(c.Batch) != nil || process.Check(nil, c, c.Typed) != nil {
		return
	}
	b := process.Start(in)
	b.NeedsRecount = c.Typed.Sub(c.At) > time.Minute // what was imported of that time counts
	h.add(b)
	h.goneBefore(b)
	h.pending.batches[b.ID] = b
	h.pending.note(lineOf(c))
	h.serve(in)
	h.occupy()
}

func (h *House) acknowledge(in process.Input) {
	c := in.Command
	en, a, ok := h.board.find(c.Alarm)
	if !ok {
		return
	}
	h.events(en, a, alerts.Acknowledge(en, a, alerts.Answer{ID: c.ID, By: c.By, At: c.At}))
}

// occupy tells each place whether a batch is inside.
func (h *House) occupy() {
	for _, p := range h.places {
		p.Occupied = false
		for _, b := range h.open {
			p.Occupied = p.Occupied || b.Place() == p.Name
		}
		h.pending.places[p.Name] = p
	}
}
