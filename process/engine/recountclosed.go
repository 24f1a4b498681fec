package engine

import (
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
	for _, id := range slices.Sorted(maps.Keys(batches)) {
		b := batches[id]
		if b.Open() || !b.NeedsRecount {
			continue
		}
		fresh, err := Anew(e.Store, id, e.cursor, b.Now)
		if err != nil {
			return err
		}
		fresh.Now = b.Now
		fresh.KeepAbsences(b)
		e.mu.Lock()
		e.house.judged[id] = judge(b) // what the journal says by now
		e.house.pending.batches[id] = fresh
		if e.house.closed[id] != nil { // papers that come before it is written
			e.house.closed[id] = fresh
		}
		e.house.judge()
		e.mu.Unlock()
	}
	return nil
}
