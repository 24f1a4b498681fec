package engine

import (
	"fmt"
	"slices"
	"time"

	"flitch/process"
)

// recountEvery bounds how often a stream of late readings makes a batch be
// computed anew.
const recountEvery = 10 * time.Second

// recountLate computes anew each batch that something late has touched. Open
// questions of alarms go on as they are: late data never ring.
func (e *Engine) recountLate() error {
	if err := e.recountClosed(); err != nil {
		return err
	}
	now := e.Clock.Now()
	if now.Sub(e.recount) < recountEvery {
		return nil
	}
	for _, b := range slices.Clone(e.house.open) {
		if seen := e.house.seen[b.ID]; seen != nil && seen.NeedsRecount {
			e.recount = now
			if err := e.recountSeen(b); err != nil {
				return err
			}
		}
		if !b.NeedsRecount {
			continue
		}
		e.recount = now
		if err := e.recountBatch(b, nil); err != nil {
			return err
		}
	}
	return nil
}

// recountBatch computes one batch anew, as far as the cursor; because of a strike, if it
// was one.
func (e *Engine) recountBatch(b *process.Batch, strike *process.Command) error {
	fresh, err := e.again(b, true)
	if err != nil {
		return err
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	if strike != nil {
		e.house.pending.note(struckLine(*strike, fresh))
	}
	if fresh.Imported && e.house.seen[b.ID] == nil { // imported before the batch was typed
		e.house.seen[b.ID] = copyOf(b)
	}
	e.house.recounted(b, fresh)
	e.house.occupy() // another stage may be in another place
	return nil
}

// recountStruck computes anew, before the next input, the batches of which the last one
// struck something out. It is done at that place of the log, so that a daemon that was
// stopped in between comes to the same.
func (e *Engine) recountStruck() error {
	for list := e.house.takeStruck(); len(list) > 0; list = list[1:] {
		if err := e.recountStrike(list[0]); err != nil {
			e.house.struck = list // the next try begins with them
			return err
		}
	}
	return nil
}

func (e *Engine) recountStrike(c process.Command) error {
	b := e.house.batch(c.Batch)
	if b == nil {
		return nil
	}
	if e.house.seen[c.Batch] != nil {
		if err := e.recountSeen(b); err != nil {
			return err
		}
	}
	return e.recountBatch(b, &c)
}

// recountSeen computes anew what the alarms look at of a batch in which imported readings
// count.
func (e *Engine) recountSeen(b *process.Batch) error {
	fresh, err := e.again(b, false)
	if err != nil {
		return err
	}
	fresh.Now = b.Now
	fresh.KeepAbsences(b)
	e.mu.Lock()
	e.house.seen[b.ID] = fresh
	e.mu.Unlock()
	return nil
}

// again folds everything the batch has seen, in the order it happened, with or without
// what was imported. The history is read as it is folded: it may be a million readings.
func (e *Engine) again(b *process.Batch, imports bool) (*process.Batch, error) {
	commands, err := e.said(b)
	if err != nil {
		return nil, fmt.Errorf("engine: recount batch %s: %w", b.ID, err)
	}
	commands, struck := process.InForce(slices.DeleteFunc(commands, func(in process.Input) bool { return in.Seq > e.cursor }))
	slices.SortStableFunc(commands[1:], func(a, b process.Input) int { return a.EventTime().Compare(b.EventTime()) })
	var failed error
	fresh := process.Recount(commands[0], func(yield func(process.Input) bool) {
		failed = e.history(b, commands, imports, func(in process.Input) { yield(in) }) // Recount takes all
	})
	if failed != nil {
		return nil, fmt.Errorf("engine: recount batch %s: %w", b.ID, failed)
	}
	fresh.Struck = struck
	return fresh, nil
}

// said is what was said of the batch, and of the house while it ran: checks of its probes.
func (e *Engine) said(b *process.Batch) ([]process.Input, error) {
	commands, err := e.Store.Commands(b.ID)
	if err != nil {
		return nil, err
	}
	began := commands[0].Seq
	house, err := e.Store.Commands("")
	if err != nil {
		return nil, err
	}
	for _, in := range house {
		if c := in.Command; in.Seq > began && ofProbe(b, c) {
			commands = append(commands, in)
		}
	}
	return commands, nil
}

// history hands over the commands after the first, and the readings between them by when
// they were measured; of the same moment a command comes first, but for the one that closes.
func (e *Engine) history(b *process.Batch, commands []process.Input, imports bool, yield func(process.Input)) error {
	began, rest := commands[0].Seq, commands[1:]
	probes := make([]string, len(b.Tracks))
	for i, t := range b.Tracks {
		probes[i] = t.Probe.Probe
	}
	err := e.Store.EachReading(probes, b.Started.Add(-time.Hour), b.Now.Add(time.Hour), func(seq int64, r process.Reading) error {
		came := seq > began || r.IsImported() // a file may be brought before the batch is typed
		if !came || seq > e.cursor || r.IsImported() && !imports {
			return nil
		}
		for len(rest) > 0 && comesFirst(rest[0], r) {
			yield(rest[0])
			rest = rest[1:]
		}
		yield(process.Input{Seq: seq, Kind: process.InputReading, Reading: r})
		return nil
	})
	for _, in := range rest {
		yield(in)
	}
	return err
}

// ofProbe reports what was said of a probe that measures the batch, for the whole house,
// or of the clock they all are dated by.
func ofProbe(b *process.Batch, c process.Command) bool {
	return c.Kind == process.CommandFault && c.Clock != nil ||
		c.Kind == process.CommandChecked && c.Check != nil && b.Uses(c.Check.Probe) ||
		c.Kind == process.CommandUnit && c.Unit != nil && b.Uses(c.Unit.Probe)
}
