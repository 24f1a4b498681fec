package app

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// A Supervisor starts flitch again when it is no longer told that flitch works: systemd.
type Supervisor interface {
	// Tell says how flitch is, in the words of sd_notify(3): READY=1, WATCHDOG=1, STOPPING=1.
	Tell(state string) error
	// Every is how long it waits for WATCHDOG=1 before it starts flitch again; zero: for ever.
	Every() time.Duration
}

// errHangs means that the engine did not answer in time.
var errHangs = errors.New("what is stored was not evaluated")

// answers has the engine evaluate what is stored. The store is not asked for its
// newest number: a write that hangs would hold up the answer, and the engine hangs
// with it.
func answers(ctx context.Context, e worker, patience time.Duration) error {
	asking, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	switch err := e.CatchUp(asking); {
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("%w within %s", errHangs, patience)
	case err != nil:
		return fmt.Errorf("what is stored was not evaluated: %w", err)
	}
	return nil
}

// A worker is the engine as the watchdog sees it.
type worker interface {
	CatchUp(context.Context) error
	Worked() int64
}

// works is answers for the watchdog: an engine that goes on with what keeps it from answering
// works too. A batch of a year that is computed anew takes minutes on a small board, and after a
// start it would begin anew.
func works(ctx context.Context, e worker, patience time.Duration) error {
	before := e.Worked()
	err := answers(ctx, e, patience)
	if errors.Is(err, errHangs) && e.Worked() > before {
		return nil
	}
	return err
}

// watchdog feeds the supervisor as long as the engine works, until ctx ends. An answer
// that something is wrong is one too: a full disk or a broker that is away are told to
// people, and starting again would mend neither.
func (a *App) watchdog(ctx context.Context) error {
	every := a.supervisor.Every()
	for {
		if err := works(ctx, a.engine, every/2); errors.Is(err, errHangs) {
			a.log.Error("the watchdog is not fed", "err", err)
		} else if ctx.Err() == nil {
			a.tellSupervisor("WATCHDOG=1")
		}
		select {
		case <-ctx.Done():
			return nil
		case <-Wall{}.After(every / 4):
		}
	}
}

// tellSupervisor tells it, if there is one.
func (a *App) tellSupervisor(state string) {
	if a.supervisor == nil {
		return
	}
	if err := a.supervisor.Tell(state); err != nil {
		a.log.Error("the supervisor was not told", "state", state, "err", err)
	}
}
