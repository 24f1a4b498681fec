package app

import (
	"context"
	"time"

	"flitch/process/engine"
	"flitch/store"
)

// The database is read through once after each start and then once a day: a page that
// nobody asks for can rot for months. Proposals.
const (
	firstCheck = time.Minute
	checkEvery = 24 * time.Hour
)

// checks reads the database through until ctx ends.
func (a *App) checks(ctx context.Context) error {
	for wait := firstCheck; ; wait = checkEvery {
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(wait):
		}
		switch err := a.db.QuickCheck(); {
		case err == nil && !a.faults.Has(engine.FaultDamage):
			a.recovered(engine.FaultDamage) // of before the start
		case err != nil && store.FaultOf(err) != store.Full:
			a.damaged(err)
		}
	}
}
