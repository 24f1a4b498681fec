package engine

import (
	"errors"
	"fmt"
	"math"
	"time"

	"flitch/process"
)

// pendingMost bounds the lines that wait in memory to be written. Own bound.
const pendingMost = 20_000

// errBacklog means that what waits to be written has come to its bound.
var errBacklog = errors.New("too much waits to be written")

// catchUp evaluates every stored input behind the cursor. After an error the next call
// goes on where this one ended.
func (e *Engine) catchUp() error {
	if err := e.recountStruck(); err != nil {
		return err
	}
	for recounts := 0; ; {
		if len(e.house.pending.journal) > pendingMost {
			e.save()
			return fmt.Errorf("engine: %w: %w", errBacklog, e.unwritten)
		}
		inputs, err := e.Store.NextInputs(e.cursor, passSize)
		if err != nil {
			return fmt.Errorf("engine: read inputs: %w", err)
		}
		if len(inputs) == 0 {
			if !e.settle() || recounts >= len(e.house.open) { // who asks for something has waited long enough
				return nil
			}
			recounts++ // others may wait for the same; what came in meanwhile goes first
			continue
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
		e.settle()
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
		e.worked.Add(1)
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

// settle writes what was evaluated, if it is time, and then computes a batch anew that late
// data have touched, if there is one: a long one takes a while, and a ring does not wait for
// it. One whose history cannot be read stays as it is, and is tried again.
func (e *Engine) settle() (recounted bool) {
	e.tried(errors.Join(e.fetchOwed(), e.recountClosed()))
	e.saveIfDue()
	recounted, err := e.recountLate()
	e.tried(err)
	if recounted {
		e.saveIfDue()
	}
	return recounted
}

// tried takes note of a batch that could not be computed anew.
func (e *Engine) tried(err error) {
	if err != nil {
		e.Log.Error("a batch was not computed anew, trying again", "err", err)
		e.unreadable(err)
	}
}

func (e *Engine) saveIfDue() {
	if e.house.pending.loud() || e.Clock.Now().Sub(e.saved) >= e.Save {
		e.save()
		return
	}
	e.changed()
}

// save writes the pending change. When the disk does not take it, rings that wait in it go
// out past the database, and it is tried again, each time after a longer while; what
// is evaluated meanwhile is added to it.
func (e *Engine) save() {
	if e.house.pending.empty() && e.house.pending.cursor == 0 || e.unwritten != nil && e.Clock.Now().Before(e.tryAt) {
		return
	}
	err := e.Store.Update(e.write)
	e.fault(err)
	if err != nil {
		e.notWritten(err)
		return
	}
	queued := len(e.house.pending.messages) > 0
	e.mu.Lock()
	e.house.pending = newChange(e.cursor)
	if len(e.house.closed) > 0 {
		clear(e.house.closed) // what is written is read from there
		e.house.forgetClosed()
	}
	e.mu.Unlock()
	e.saved, e.unwritten, e.pause, e.spoken = e.Clock.Now(), nil, 0, 0
	if queued && e.Queued != nil {
		e.Queued()
	}
	e.changed()
}

// firstPause and lastPause are the waits between two tries to write. Proposals.
const (
	firstPause = 100 * time.Millisecond
	lastPause  = 10 * time.Second
)

func (e *Engine) notWritten(err error) {
	e.Log.Error("state not written, trying again", "err", err)
	e.pause = min(max(firstPause, 2*e.pause), lastPause)
	e.unwritten, e.tryAt = err, e.Clock.Now().Add(e.pause)
	e.tellUnstored(e.house.pending.messages[e.spoken:], math.MaxInt64)
	e.spoken = len(e.house.pending.messages)
	e.changed()
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

func (e *Engine) unreadable(err error) {
	if e.Blind != nil && !errors.Is(err, errBacklog) {
		e.Blind(err)
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
func (e *Engine) tickIfDue() error {
	now := e.Clock.Now()
	if now.Before(e.nextTick) {
		return nil
	}
	e.nextTick = nextMinute(now)
	return e.tick()
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
func (e *Engine) tick() error {
	if !e.watching() {
		return nil
	}
	now := e.Clock.Now().UTC()
	err := e.Store.Update(func(tx Tx) error {
		_, err := tx.AppendTick(now)
		return err
	})
	if err != nil || e.unwritten == nil {
		e.fault(err)
	}
	if err != nil { // the next minute tells the time as well
		e.Log.Error("tick not stored", "err", err)
		e.remember()
		return nil
	}
	return e.catchUp()
}

// watching reports whether time alone can change anything.
func (e *Engine) watching() bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return len(e.house.open) > 0 || len(e.house.faults) > 0 || len(e.house.board.count()) > 0 || e.house.timed()
}
