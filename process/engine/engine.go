package engine

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// passSize bounds how many inputs one transaction covers.
const passSize = 2000

// A Config is what the engine is built from.
type Config struct {
	Store     Store
	Clock     Clock
	Log       *slog.Logger
	Observer  Observer
	Places    []*process.Place // as configured, nothing heard yet
	Catalogue []alerts.Entry
	Policy    alerts.Policy
	Changes   map[string][]alerts.Change // of the alarms of places, by Subject of the place
	Queued    func()                     // called after messages were committed
	Changed   func()                     // called after anything was evaluated
	Save      time.Duration              // state is written at least this often; default a minute

	ReviewerDiffers bool // a record is reviewed by somebody who did not make it

	Unstored func(alerts.Message) // sends, past the database, a ring that cannot be stored; it must not block. Nil: nobody does
	Held     func() int           // readings that were heard and are not on disk yet; nil: none ever
	Blind    func(error)          // called when what is stored cannot be read; nil: nobody asks
}

// An Engine owns all batches, places and alarms. Its loop is the only writer of
// their state; others read copies.
type Engine struct {
	Config
	requests chan request
	wake     chan struct{}
	done     chan struct{}

	mu       sync.Mutex // held while evaluating in memory, never over I/O
	house    *House
	cursor   int64
	saved    time.Time
	nextTick time.Time
	rests    map[string]rest // of batches that were computed anew, by name
	owed     map[string]bool // closed batches that could not be
	worked   atomic.Int64

	unwritten error     // why the pending change is not on disk; nil: it is, or waits for its minute
	tryAt     time.Time // when it is tried again
	pause     time.Duration
	spoken    int // of the messages that wait in it: sent past the database
	memory    memory
}

// A request is a command, or with none a question whether all is evaluated.
type request struct {
	command *process.Command
	photo   []byte // JPEG that comes with the command; nil: none
	answer  chan error
}

// ErrStored means that what an engine of before has stored cannot be read.
var ErrStored = errors.New("what is stored cannot be read")

// New loads the state the last run left and returns an engine ready to Run.
func New(c Config) (*Engine, error) {
	if c.Save == 0 {
		c.Save = time.Minute
	}
	e := &Engine{Config: c, requests: make(chan request), wake: make(chan struct{}, 1), done: make(chan struct{}),
		rests: map[string]rest{}, owed: map[string]bool{},
		house: NewHouse(c.Places, c.Catalogue, c.Policy), memory: memory{heard: make(chan []process.Reading, heardMost)}}
	e.Store = counted{c.Store, &e.worked}
	if err := e.house.ChangePlaces(c.Changes); err != nil {
		return nil, err
	}
	if err := e.load(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrStored, err)
	}
	e.house.pending = newChange(e.cursor)
	e.saved = c.Clock.Now()
	e.nextTick = nextMinute(e.saved)
	return e, nil
}

// Worked is how many inputs were evaluated since the start, and readings read again of batches
// that were computed anew: while it grows the engine works, however long one answer takes.
func (e *Engine) Worked() int64 { return e.worked.Load() }

// counted is a store that counts the readings it hands over.
type counted struct {
	Store
	n *atomic.Int64
}

func (c counted) EachReading(probes []string, from, to time.Time, fn func(seq int64, r process.Reading) error) error {
	return c.Store.EachReading(probes, from, to, func(seq int64, r process.Reading) error {
		c.n.Add(1)
		return fn(seq, r)
	})
}

// Wake says that new inputs were committed. It never blocks.
func (e *Engine) Wake() {
	select {
	case e.wake <- struct{}{}:
	default:
	}
}

// Run evaluates inputs until ctx ends, then evaluates what is already stored and
// writes its state. A disk that takes or gives nothing does not end it.
func (e *Engine) Run(ctx context.Context) error {
	defer close(e.done)
	for started := false; ; {
		err := e.catchUp()
		e.look(err)
		if !started && err == nil {
			e.nextTick, started = e.firstTick(), true
		}
		select {
		case <-ctx.Done():
			return e.finish()
		case <-e.wake:
		case readings := <-e.memory.heard:
			e.recall(readings)
		case r := <-e.requests:
			r.answer <- e.answer(r)
		case <-e.Clock.After(e.wait()):
			e.look(e.tickIfDue())
			e.passTime()
		}
	}
}

// wait is how long there is nothing to do by the clock.
func (e *Engine) wait() time.Duration {
	now := e.Clock.Now()
	wait := e.nextTick.Sub(now)
	if e.unwritten != nil {
		wait = min(wait, e.tryAt.Sub(now))
	}
	if e.memory.house != nil {
		wait = min(wait, memoryLook)
	}
	return wait
}

// look takes note of whether what is stored could be evaluated.
func (e *Engine) look(err error) {
	if err != nil {
		if !e.memory.blind.Swap(true) {
			e.Log.Error("what is stored cannot be evaluated, trying again", "err", err)
		}
		e.unreadable(err)
		e.remember()
		return
	}
	e.memory.blind.Store(false)
	e.forget()
}

// finish writes what is in memory with a last try; what cannot be written is
// evaluated again at the next start.
func (e *Engine) finish() error {
	e.tryAt = time.Time{}
	if err := e.catchUp(); err != nil {
		return err
	}
	e.save()
	if e.unwritten != nil {
		return fmt.Errorf("engine: write state: %w", e.unwritten)
	}
	return nil
}

// ErrStopped is returned for a command that reached an engine that has stopped.
var ErrStopped = errors.New("flitch is stopping: send it again")

// ErrNotStored is in the error of a command that the log could not take.
var ErrNotStored = errors.New("the command was not stored")

// Do checks, stores and evaluates one command; when it returns nil it is on disk, and so
// is what came of it, unless the disk has ceased to take anything in between: that is
// evaluated again from the log. A command that cannot be taken gives a *process.Refusal and changes
// nothing. The same command (by ID) is taken once however often it is sent.
func (e *Engine) Do(ctx context.Context, c process.Command) error {
	return e.ask(ctx, request{command: &c, answer: make(chan error, 1)})
}

// DoWithPhoto is Do for a note whose Photo names the hash of the JPEG: both are stored in
// one transaction.
func (e *Engine) DoWithPhoto(ctx context.Context, c process.Command, jpeg []byte) error {
	return e.ask(ctx, request{command: &c, photo: jpeg, answer: make(chan error, 1)})
}

// CatchUp returns once the minute has been told, if one has passed, and every
// input that is stored has been evaluated.
func (e *Engine) CatchUp(ctx context.Context) error {
	return e.ask(ctx, request{answer: make(chan error, 1)})
}

func (e *Engine) ask(ctx context.Context, r request) error {
	select {
	case e.requests <- r:
	case <-e.done:
		return ErrStopped
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case err := <-r.answer:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (e *Engine) answer(r request) error {
	if r.command == nil {
		if err := e.tickIfDue(); err != nil {
			return err
		}
		return e.catchUp()
	}
	return e.serve(*r.command, r.photo)
}
