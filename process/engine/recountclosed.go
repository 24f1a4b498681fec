package engine

import (
	"errors"
	"maps"
	"slices"

	"flitch/process"
)

// comesFirst reports whether the command is told before the reading when a batch is computed
// anew. A reading of the moment at which a batch is closed was there before.
func comesFirst(command process.Input, r process.Reading) bool {
	at := command.EventTime()
	return at.Before(r.Measured) || at.Equal(r.Measured) && command.Command.Kind != process.CommandClose
}

// recountClosed computes anew what was closed while something late in it still waited for
// that, or for a time before its last readings: nobody comes back to it, and its record has
// to be what its readings give.
func (e *Engine) recountClosed() error {
	e.mu.Lock()
	batches := maps.Clone(e.house.pending.batches)
	e.mu.Unlock()
	var failed error
	for _, id := range slices.Sorted(maps.Keys(batches)) {
		b := batches[id]
		if b.Open() || !b.NeedsRecount || e.owed[id] && !e.rested(id) {
			continue
		}
		began := e.Clock.Now()
		if err := e.recountOneClosed(b); err != nil {
			e.owed[id] = true
			e.rest(id, began)
			failed = errors.Join(failed, err)
		}
	}
	return failed
}

func (e *Engine) recountOneClosed(b *process.Batch) error {
	fresh, err := Anew(e.Store, b.ID, e.cursor, b.Now)
	if err != nil {
		return err
	}
	fresh.Now = b.Now
	fresh.KeepAbsences(b)
	e.mu.Lock()
	defer e.mu.Unlock()
	e.house.judged[b.ID] = judge(b) // what the journal says by now
	e.house.pending.batches[b.ID] = fresh
	if e.house.closed[b.ID] != nil { // papers that come before it is written
		e.house.closed[b.ID] = fresh
	}
	e.house.judge()
	delete(e.owed, b.ID)
	return nil
}

// fetchOwed brings the closed batches back that could not be computed anew before they were
// written, because what they are computed from could not be read.
func (e *Engine) fetchOwed() error {
	for _, id := range slices.Sorted(maps.Keys(e.owed)) {
		if e.house.pending.batches[id] != nil || !e.rested(id) {
			continue
		}
		row, found, err := e.Store.StoredBatch(id)
		if err != nil {
			return err
		}
		if found {
			err = e.fetch(row)
		}
		if err != nil {
			return err
		}
		e.mu.Lock()
		if b := e.house.closed[id]; b != nil && b.NeedsRecount {
			e.house.pending.batches[id] = b
		} else {
			delete(e.owed, id)
		}
		e.mu.Unlock()
	}
	return nil
}
