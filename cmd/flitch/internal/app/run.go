package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/mqtt"
)

// stopWithin bounds how long open requests are waited for when flitch stops.
const stopWithin = 5 * time.Second

// A loop is a goroutine that App owns, with the way to stop it.
type loop struct {
	name string
	stop context.CancelFunc
	done chan error
}

func start(name string, run func(context.Context) error) *loop {
	ctx, cancel := context.WithCancel(context.Background())
	l := &loop{name: name, stop: cancel, done: make(chan error, 1)}
	go func() { l.done <- run(ctx) }()
	return l
}

func (l *loop) end() error {
	l.stop()
	if err := <-l.done; err != nil {
		return fmt.Errorf("%s: %w", l.name, err)
	}
	return nil
}

// Run works until ctx ends, then stops: the page first, then the intake, which
// stores and acknowledges what it has taken, then the way readings come in; then
// what is stored is evaluated and written, and the attempt to send under way is
// finished. Last the database is closed. It may be called once. The error is ErrAgain when
// the configuration has changed.
func (a *App) Run(ctx context.Context) error { return a.runBy(ctx, a.openSource) }

// runBy is Run with a way of its own in which readings come in: open begins it, and what that
// returns ends it.
func (a *App) runBy(ctx context.Context, open func() (func() error, error)) error {
	var ends []func() error
	began := func(l *loop) { ends = append(ends, l.end) }
	began(start("seals", a.sealing)) // the last to end: what was taken in is sealed
	began(start("blocks", a.packing))
	a.endStranded()
	began(start("outbox", a.outbox.Run))
	began(start("engine", a.engine.Run))
	began(start("reports", a.report))
	began(start("lane", a.lane))
	began(start("pace", a.watchPace))
	began(start("checks", a.checks))
	if a.house != nil {
		a.tellClock(ctx) // before anything is dated by it
		began(start("clock", a.watchClock))
	}
	intake := start("intake", a.intake.Run)
	closeSource, err := open()
	if err == nil {
		ends = append(ends, closeSource)
	}
	if err == nil {
		var more []func() error
		more, err = a.tellOutside()
		ends = append(ends, more...)
	}
	began(intake)
	if err == nil {
		began(start("page", a.page.serve))
		if a.plain != nil {
			began(start("plain page", a.plain.serve))
		}
		if a.supervisor != nil && a.supervisor.Every() > 0 {
			began(start("watchdog", a.watchdog))
		}
		a.tellSupervisor("READY=1")
		err = a.restart(ctx)
	}
	if ctx.Err() != nil { // else flitch begins anew, or stands by: systemd would end it for that
		a.tellSupervisor("STOPPING=1")
	}
	var errs []error
	for i := len(ends) - 1; i >= 0; i-- {
		errs = append(errs, ends[i]())
	}
	return errors.Join(append(errs, err, a.db.Close())...)
}

// openSource opens the way readings come in and returns how to close it.
func (a *App) openSource() (func() error, error) {
	if a.broker != nil {
		if err := a.broker.Serve(); err != nil {
			return nil, fmt.Errorf("broker: %w", err)
		}
		stopCalls := a.startCalls(a.broker.Send)
		return func() error {
			stopped := stopCalls()
			late, cancel := context.WithTimeout(context.Background(), stopWithin)
			defer cancel()
			return errors.Join(stopped, a.broker.Close(late))
		}, nil
	}
	// Before the first message can come: it may be stored before we hear that we are subscribed.
	newest, err := a.db.NewestReading()
	a.heardOnce = err == nil && newest > 0
	sub, err := mqtt.Subscribe(a.outsideBroker(), a.intake.Topics(), a.ear(), Wall{}, a.brokerEvents(), a.log)
	if err != nil {
		return nil, fmt.Errorf("broker %s: %w", config.External, err)
	}
	a.subscriber = sub
	stopCalls := a.startCalls(sub.Send)
	return func() error { stopped := stopCalls(); sub.Close(); return stopped }, nil
}
