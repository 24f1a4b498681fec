package app

import (
	"context"
	"time"

	"flitch/store"
)

const (
	// packEvery is how often it is looked whether readings can be packed: a block is
	// six hours of a probe that sends every five seconds.
	packEvery = 10 * time.Minute
	// packFirst waits until a start is over: what is due then are minutes, or an older
	// database that takes hours all the same. Proposal.
	packFirst = time.Minute
	// packTold is how often the log tells how far the packing of an older database is.
	packTold = 100_000 // readings
)

// packing moves sealed readings from rows into blocks until ctx ends, and gives back to the file
// system what is free then. It rests as long as it works: nobody waits for it.
func (a *App) packing(ctx context.Context) error {
	packer := a.db.NewPacker(0)
	var removed time.Time // when it was last looked for what is old
	for wait := packFirst; ; wait = packEvery {
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(wait):
		}
		err := a.pack(ctx, packer)
		if now := a.clock.Now(); err == nil && now.Sub(removed).Abs() >= removeEvery {
			removed, err = now, a.removeOld(ctx)
		}
		if err == nil {
			err = a.giveBack(ctx)
		}
		if err != nil && ctx.Err() == nil { // rows are as good as before: nobody is woken
			a.log.Error("older readings were not packed, or not removed", "err", err)
		}
	}
}

// pack packs all that is due.
func (a *App) pack(ctx context.Context, packer *store.Packer) error {
	total, bytes, told := 0, 0, 0
	for {
		began := time.Now()
		done, more, err := packer.Next(ctx)
		if err != nil {
			return err
		}
		if total, bytes = total+done.Readings, bytes+done.Bytes; total-told >= packTold || !more && told > 0 {
			told = total
			a.log.Info("older readings are being packed; nothing waits for it", "readings", total, "bytes", bytes, "done", !more)
		}
		if !more {
			return nil
		}
		rest(ctx, time.Since(began))
	}
}

func (a *App) giveBack(ctx context.Context) error {
	for {
		began := time.Now()
		more, err := a.db.GiveBack()
		if err != nil || !more || ctx.Err() != nil {
			return err
		}
		rest(ctx, time.Since(began))
	}
}

// rest waits for the time of the machine, not for that of the clock, which a demo steps.
func rest(ctx context.Context, d time.Duration) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	}
}
