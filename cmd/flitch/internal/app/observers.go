package app

import (
	"time"

	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/api"
	"flitch/process/engine"
)

// engineObserver counts what the engine does and notes when it cannot write.
type engineObserver struct{ app *App }

// Evaluated implements engine.Observer.
func (o engineObserver) Evaluated(inputs int, lag time.Duration) {
	o.app.metrics.Evaluated(inputs, lag)
}

// Alarms implements engine.Observer.
func (o engineObserver) Alarms(counts map[engine.AlarmCount]int) {
	groups := make(map[api.AlarmGroup]int, len(counts))
	for c, n := range counts {
		groups[api.AlarmGroup(c)] = n
	}
	o.app.metrics.AlarmCounts(groups)
}

// EngineFault implements engine.Observer.
func (o engineObserver) EngineFault(err error) {
	o.app.metrics.EngineFault(err)
	o.app.unwritten.Store(err != nil)
	o.app.diskFault(err)
}

// oldestDue tells when the oldest unsent message was due.
func (a *App) oldestDue() (time.Time, bool) {
	if a.db == nil {
		return time.Time{}, false
	}
	at, some, err := a.db.OldestDue(a.clock.Now())
	return at, some && err == nil
}

// buildOutbox builds the channels and the loop that sends.
func (a *App) buildOutbox() error {
	var err error
	if a.senderKey, err = senderKey(a.cfg); err != nil {
		return err
	}
	var channels []outbox.Channel
	for _, c := range a.cfg.Channels {
		ch, err := Channel(c)
		if err != nil {
			return err
		}
		channels = append(channels, answerable{ch, a.links, a.unreached})
	}
	a.outbox, err = outbox.New(a.db, a.clock, channels, outbox.Options{
		Seed: uint64(a.clock.Now().UnixNano()), Failed: a.phoneFailed, Divert: a.divert, Observe: a.sent, Log: a.log,
	})
	if err != nil {
		return err
	}
	return a.openPhones()
}
