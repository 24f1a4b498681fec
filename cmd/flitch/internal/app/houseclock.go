package app

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"flitch/cmd/flitch/internal/steady"
	"flitch/process"
	"flitch/process/engine"
)

// made is a day before which no flitch was: what a clock says before it cannot be.
var made = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// started is any moment that Go's own clock counts from.
var started = time.Now()

// A clock that stepped by less than worthTelling is written down and rings nobody. Who was
// told of one hears that it is over when it has gone right for rightFor. Proposals.
const (
	worthTelling = time.Minute
	rightFor     = time.Hour
)

// A houseClock watches the clock of the machine for an App.
type houseClock struct {
	*steady.Clock
	known    map[string]bool // probes whose own clock was believed before this start
	telling  sync.Mutex      // held by who tells of it
	standing bool            // people are told that the clock is in doubt
	stepped  time.Time       // the newest step worth telling
	owes     bool            // something is not stored yet
	owed     []steady.Notice // of that, in order, what the clock does not tell of again by itself
}

// mostOwed bounds them: a clock that jumps all the time while the disk fails has been told of.
const mostOwed = 100

// buildClock makes the clock that all loops live by, unless one was given.
func (a *App) buildClock(given Clock, m Machine) error {
	if given != nil {
		a.clock = given
		return nil
	}
	if m == nil {
		m = thisMachine{}
	}
	devices, err := a.db.NewestDeviceTimes()
	if err != nil {
		return fmt.Errorf("read newest device times: %w", err)
	}
	a.house = &houseClock{Clock: steady.New(m, a.db.LastTaken(), made), known: map[string]bool{}}
	for probe := range devices {
		a.house.known[probe] = true
	}
	a.clock = a.house
	return nil
}

// witness takes what the clock of a sensor shows: see package steady.
func (a *App) witness(probe string, shows time.Time) {
	if a.house != nil {
		a.house.Witness(probe, shows, a.house.known[probe])
	}
}

// trueTime is the best guess of the real time, for certificates and sign-ins: a machine
// may start in 1970, and in a demonstration the loops live in another time.
func (a *App) trueTime() time.Time {
	if a.house != nil {
		return a.house.Now()
	}
	return Wall{}.Now()
}

// watchClock stores each step of the machine's clock, until ctx ends.
func (a *App) watchClock(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-a.house.Wake:
		case <-a.clock.After(a.house.wait()):
		}
		a.tellClock(ctx)
	}
}

// tellClock stores what happened to the clock since the last call, and whether people are
// to be told. A step ahead is stored before anything is dated by it. What cannot be stored waits,
// and so does what came after it.
func (a *App) tellClock(ctx context.Context) {
	h := a.house
	h.telling.Lock()
	defer h.telling.Unlock()
	news := append(h.owed, h.Notices()...)
	for i, n := range news {
		if err := a.tellNotice(ctx, n); err != nil {
			a.log.Error("a step of the clock is not stored, and a step ahead not followed yet", "from", n.From, "to", n.To, "err", err)
			h.owe(news[i:])
			return
		}
	}
	h.owed, h.owes = nil, false
	if off, doubted := h.Off(); doubted && off.Abs() >= worthTelling {
		h.stepped = h.Now()
	}
	if h.Now().Sub(h.stepped) < rightFor || !h.standing && !a.engine.Faulty(engine.FaultClock) {
		return
	}
	if err := a.engine.Report(ctx, engine.FaultClock, false); err != nil {
		a.log.Error("the end of a fault is not stored", "part", engine.FaultClock, "err", err)
		return
	}
	h.standing = false
}

// tellNotice stores one step of the clock.
func (a *App) tellNotice(ctx context.Context, n steady.Notice) error {
	h := a.house
	if n.Kind == steady.Unset || n.To.Sub(n.From).Abs() >= worthTelling {
		h.standing = true
	}
	w := process.ClockWord{Kind: process.ClockKind(n.Kind), From: n.From, To: n.To, Since: n.Since}
	err := a.engine.ReportClock(ctx, w, h.standing)
	if errors.Is(err, engine.ErrNotStored) || errors.Is(err, engine.ErrStopped) || ctx.Err() != nil {
		return err
	}
	if err != nil { // it is in the log, and counts when that can be read
		a.log.Error("a step of the clock is stored and not evaluated", "err", err)
	}
	a.log.Warn("clock of the machine", "what", n.Kind, "from", n.From, "to", n.To)
	if n.Kind == steady.Followed {
		h.Follow()
	}
	h.stepped = h.Now()
	return nil
}

// wait is how long nothing has to be told.
func (h *houseClock) wait() time.Duration {
	h.telling.Lock()
	defer h.telling.Unlock()
	if h.owes {
		return reportAgain
	}
	return worthTelling
}

// owe keeps what could not be stored.
func (h *houseClock) owe(news []steady.Notice) {
	h.owed, h.owes = nil, true
	for _, n := range news {
		if n.Kind != steady.Followed && len(h.owed) < mostOwed {
			h.owed = append(h.owed, n)
		}
	}
}

// clockFault says what is wrong with the clock of the machine now; "" if nothing is.
func (a *App) clockFault() string {
	if a.house == nil {
		return ""
	}
	off, doubted := a.house.Off()
	if !doubted || off.Abs() < worthTelling {
		return ""
	}
	return fmt.Sprintf("the clock of this machine differs from the time that flitch counts by %v; set it, or start flitch again if it is right", off.Round(time.Second))
}
