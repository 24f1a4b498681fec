package engine

import (
	"context"
	"fmt"
	"time"

	"flitch/process"
)

// catchUp evaluates every stored input behind the cursor.
func (e *Engine) catchUp(ctx context.Context) error {
	for {
		inputs, err := e.Store.NextInputs(e.cursor, passSize)
		if err != nil {
			return fmt.Errorf("engine: read inputs: %w", err)
		}
		if len(inputs) == 0 {
			return e.settle(ctx)
		}
		if err := e.fetchClosed(inputs); err != nil {
			return err
		}
		if err := e.evaluate(inputs); err != nil {
			return err
		}
		if e.Observer != nil {
			e.Observer.Evaluated(len(inputs), e.Clock.Now().Sub(inputs[0].At))
		}
		if err := e.settle(ctx); err != nil {
			return err
		}
	}
}

// evaluate runs the inputs through the pure core, in memory.
func (e *Engine) evaluate(inputs []process.Input) error {
	for len(inputs) > 0 {
		inputs = e.evaluateSome(inputs)
		if err := e.recountStruck(); err != nil {
			return err
		}
	}
	return nil
}

// evaluateSome goes as far as the first input that strikes something out, and returns the
// rest: what counts then is read from the log, and others may look meanwhile.
func (e *Engine) evaluateSome(inputs []process.Input) (rest []process.Input) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i, in := range inputs {
		e.house.Take(in)
		e.cursor = in.Seq
		if len(e.house.struck) > 0 {
			e.house.judge()
			return inputs[i+1:]
		}
	}
	e.house.judge()
	return nil
}

// settle writes what was evaluated, if it is time, and recounts the batches that
// late data have touched.
func (e *Engine) settle(ctx context.Context) error {
	if err := e.recountLate(); err != nil {
		return err
	}
	if e.house.pending.loud() || e.Clock.Now().Sub(e.saved) >= e.Save {
		return e.save(ctx)
	}
	e.changed()
	return nil
}

// save writes the pending change, trying again until the disk takes it or ctx
// ends. Nothing is evaluated meanwhile, so what waits in memory stays bounded.
func (e *Engine) save(ctx context.Context) error {
	if e.house.pending.empty() && e.house.pending.cursor == 0 {
		return nil
	}
	for wait := 100 * time.Millisecond; ; wait = min(2*wait, 10*time.Second) {
		err := e.Store.Update(e.write)
		e.fault(err)
		if err == nil {
			break
		}
		e.Log.Error("state not written, trying again", "err", err)
		select {
		case <-ctx.Done():
			return fmt.Errorf("engine: write state: %w", err)
		case <-e.Clock.After(wait):
		}
	}
	queued := len(e.house.pending.messages) > 0
	e.mu.Lock()
	e.house.pending = newChange(e.cursor)
	clear(e.house.closed) // what is written is read from there
	e.mu.Unlock()
	e.saved = e.Clock.Now()
	if queued && e.Queued != nil {
		e.Queued()
	}
	e.changed()
	return nil
}

func (e *Engine) write(tx Tx) error {
	if err := e.house.pending.write(tx); err != nil {
		return err
	}
	if err := e.house.writePeople(tx); err != nil {
		return err
	}
	return e.writeSelf(tx)
}

func (e *Engine) fault(err error) {
	if e.Observer != nil {
		e.Observer.EngineFault(err)
	}
}

func (e *Engine) changed() {
	if e.Observer != nil {
		e.mu.Lock()
		counts := e.house.board.count()
		e.mu.Unlock()
		e.Observer.Alarms(counts)
	}
	if e.Changed != nil {
		e.Changed()
	}
}

// tickIfDue tells the minute once.
func (e *Engine) tickIfDue(ctx context.Context) error {
	now := e.Clock.Now()
	if now.Before(e.nextTick) {
		return nil
	}
	e.nextTick = nextMinute(now)
	return e.tick(ctx)
}

// firstTick is when a start has to tell the time: at once if nothing in the log is of this
// minute. What was killed before it stored the minute, or was off for hours, must not wait
// another one until it finds who has been silent.
func (e *Engine) firstTick() time.Time {
	now := e.Clock.Now()
	var last time.Time
	for _, b := range e.house.open {
		last = later(last, b.Now)
	}
	for _, p := range e.house.places {
		if len(e.house.open) == 0 { // one that is new begins now
			last = later(last, p.Now)
		}
	}
	if minute := now.Truncate(time.Minute); last.Before(minute) {
		return minute
	}
	return nextMinute(now)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

func nextMinute(now time.Time) time.Time { return now.Truncate(time.Minute).Add(time.Minute) }

// tick stores that a minute has passed, while there is anything to watch.
func (e *Engine) tick(ctx context.Context) error {
	if !e.watching() {
		return nil
	}
	now := e.Clock.Now().UTC()
	err := e.Store.Update(func(tx Tx) error {
		_, err := tx.AppendTick(now)
		return err
	})
	e.fault(err)
	if err != nil { // the next minute tells the time as well
		e.Log.Error("tick not stored", "err", err)
		return nil
	}
	return e.catchUp(ctx)
}

// watching reports whether time alone can change anything.
func (e *Engine) watching() bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return len(e.house.open) > 0 || len(e.house.faults) > 0 || len(e.house.board.count()) > 0 || e.house.timed()
}
