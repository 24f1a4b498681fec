package engine

import "flitch/process"

// A batch in which imported readings count is there twice: with them, as its clocks and its
// record have it, and without, as the alarms see it. What was read out of a logger's file
// may so change a verdict, and neither raises nor clears anything.

// takeImported notes an imported reading. The batch as the alarms see it is split off
// before the first that counts.
func (h *House) takeImported(b *process.Batch, in process.Input) {
	r := in.Reading
	if b.Wants(r.Probe, r.Measured) && h.seen[b.ID] == nil {
		h.seen[b.ID] = copyOf(b)
	}
	h.found = process.Step(b, in, h.found[:0])
	h.pending.batches[b.ID] = b
}

// stepSeen runs an input through a batch that is there twice.
func (h *House) stepSeen(b, seen *process.Batch, in process.Input) {
	h.found = process.Step(b, in, h.found[:0])
	h.found = process.Step(seen, in, h.found[:0])
}

// loadSeen makes the other of each stored batch in which imported readings count. It is
// not stored: the log has all of it.
func (e *Engine) loadSeen() error {
	for _, b := range e.house.open {
		if !b.Imported {
			continue
		}
		if err := e.recountSeen(b); err != nil {
			return err
		}
	}
	return nil
}
