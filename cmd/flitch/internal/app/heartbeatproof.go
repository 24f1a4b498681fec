package app

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"flitch/process/engine"
	"flitch/store"
)

// Bounds of the proof: proposals.
const (
	// stuckAfter is how long a message may be due before the outside has to ring:
	// nobody here is told any more.
	stuckAfter = 10 * time.Minute
	// missedReadings is how many readings in a row the quickest probe may miss.
	missedReadings = 3
)

// proof is the proof of work behind the heartbeat. Only its own goroutine calls
// prove.
type proof struct {
	app       *App
	version   string
	committed atomic.Int64  // readings since the start
	newest    atomic.Int64  // when one was committed last, ms by the app's clock
	counted   int64         // committed at the last beat
	patience  time.Duration // for the engine to evaluate what is stored, by the clock of the machine
}

// heard counts readings that are on disk. Nil, without a heartbeat, counts none.
func (p *proof) heard(stored int, now time.Time) {
	if p != nil && stored > 0 {
		p.committed.Add(int64(stored))
		p.newest.Store(now.UnixMilli())
	}
}

// heard is told by the intake what has been committed.
func (a *App) heard(stored int) { a.proof.heard(stored, a.clock.Now()) }

// prove returns a beat with its counters, or the first thing that is not proven.
func (p *proof) prove(ctx context.Context) (beat, error) {
	a := p.app
	now := a.clock.Now()
	for _, f := range a.faults.List() {
		if f.Part == engine.FaultDisk {
			return beat{}, fmt.Errorf("the disk does not take what is written: %s", f.Text)
		}
	}
	if err := answers(ctx, a.engine, p.patience); err != nil {
		return beat{}, err
	}
	open := len(a.engine.Batches())
	if err := p.hears(now, open); err != nil {
		return beat{}, err
	}
	b := beat{Site: a.cfg.Site.Name, At: now, Input: a.engine.Cursor(), Batches: open, Version: p.version}
	due, waiting, err := a.db.OldestDue(now)
	if err != nil {
		return beat{}, fmt.Errorf("the outbox cannot be read: %w", err)
	}
	if waiting {
		b.Waiting = now.Sub(due).Seconds()
	}
	if waiting && now.Sub(due) > stuckAfter {
		return beat{}, fmt.Errorf("a message has been waiting to be delivered for %s", now.Sub(due).Round(time.Second))
	}
	standing, err := a.db.Occurrences(store.OccurrenceFilter{Active: true})
	if err != nil {
		return beat{}, fmt.Errorf("the alarms cannot be read: %w", err)
	}
	b.Alarms = len(standing)
	for _, f := range a.faults.List() {
		b.Faults = append(b.Faults, f.Part)
	}
	total := p.committed.Load()
	b.Readings, p.counted = total-p.counted, total
	return b, nil
}

// hears wants a reading since the last beat while a batch is open, or since the
// quickest probe should have sent a few. Without a batch sensors may be off.
func (p *proof) hears(now time.Time, open int) error {
	if open == 0 {
		return nil
	}
	newest := time.UnixMilli(p.newest.Load())
	if age := now.Sub(newest); age > p.silence() {
		if p.committed.Load() == 0 {
			return errors.New("no reading has come in since flitch was started")
		}
		return fmt.Errorf("no reading has come in for %s", age.Round(time.Second))
	}
	return nil
}

// silence is how old the newest reading may be.
func (p *proof) silence() time.Duration {
	quickest := time.Duration(0)
	for _, probe := range p.app.cfg.Probes {
		if quickest == 0 || probe.Interval < quickest {
			quickest = probe.Interval
		}
	}
	return max(p.app.cfg.Heartbeat.Every, missedReadings*quickest)
}
