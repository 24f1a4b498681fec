package engine

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"flitch/process"
)

// recountEvery bounds how often a stream of late readings makes a batch be
// computed anew.
const recountEvery = 10 * time.Second

// A rest is the time after which a batch is computed anew at the earliest.
type rest struct {
	from  time.Time
	lasts time.Duration
}

// over reports whether the rest is over, also when the clock was set back.
func (r rest) over(now time.Time) bool { return now.Before(r.from) || now.Sub(r.from) >= r.lasts }

// rested reports whether a batch may be computed anew.
func (e *Engine) rested(batch string) bool {
	r, found := e.rests[batch]
	return !found || r.over(e.Clock.Now())
}

// rest begins after a computation that began then: at least as long as that took, so that a stream
// of late readings of a long batch leaves half of the time to the others.
func (e *Engine) rest(batch string, began time.Time) {
	now := e.Clock.Now()
	maps.DeleteFunc(e.rests, func(_ string, r rest) bool { return r.over(now) })
	e.rests[batch] = rest{now, max(recountEvery, now.Sub(began))}
}

// recountLate computes one batch anew that something late has touched, and reports whether
// there was one. Open questions of alarms go on as they are: late data never ring.
func (e *Engine) recountLate() (did bool, err error) {
	for _, b := range e.house.open {
		seen := e.house.seen[b.ID]
		again := seen != nil && seen.NeedsRecount
		if !again && !b.NeedsRecount || !e.rested(b.ID) {
			continue
		}
		began := e.Clock.Now()
		if again {
			err = e.recountSeen(b)
		}
		if err == nil && b.NeedsRecount {
			err = e.recountBatch(b, nil)
		}
		e.rest(b.ID, began)
		return err == nil, err
	}
	return false, nil
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
	if err := beginsWithNew(b, commands); err != nil {
		return nil, fmt.Errorf("engine: recount batch %s: %w", b.ID, err)
	}
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

// beginsWithNew refuses what cannot be all that was said of a batch: an index of the database may be
// damaged, and SQLite's quick check does not see that.
func beginsWithNew(b *process.Batch, commands []process.Input) error {
	if len(commands) == 0 || commands[0].Command.New == nil {
		return fmt.Errorf("%w: of what was said of batch %s the beginning is missing", ErrStored, b.ID)
	}
	return nil
}

// said is what was said of the batch, and of the house while it ran: checks of its probes.
func (e *Engine) said(b *process.Batch) ([]process.Input, error) {
	commands, err := e.Store.Commands(b.ID)
	if err != nil {
		return nil, err
	}
	if err := beginsWithNew(b, commands); err != nil {
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
