package app

import (
	"context"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/process/engine"
)

// againAfter is when a backup that failed is tried again: a stick may be back. Proposal.
const againAfter = 10 * time.Minute

// backups makes copies until ctx ends: a time after the newest there is, so that a
// start makes none and puts none off.
func (a *App) backups(ctx context.Context) error {
	for {
		wait, err := a.untilBackup()
		if err == nil && wait <= 0 {
			err = a.backUp(ctx)
			wait = a.cfg.Backup.Every
		}
		switch {
		case ctx.Err() != nil:
			return nil
		case err != nil:
			a.log.Error("no backup", "err", err)
			a.faults.Set(engine.FaultBackup, err.Error())
			wait = min(againAfter, a.cfg.Backup.Every)
		default:
			a.recovered(engine.FaultBackup)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(min(wait, testLook)): // the clock may be set
		}
	}
}

// untilBackup is how long the newest copy is young enough. Those of the future are of another
// database, or of before a clock that is not set.
func (a *App) untilBackup() (time.Duration, error) {
	all, err := backup.List(a.cfg.Backup.Folder)
	now := a.clock.Now()
	for _, c := range all {
		if !c.At.After(now) {
			return c.At.Add(a.cfg.Backup.Every).Sub(now), nil
		}
	}
	return 0, err
}

func (a *App) backUp(ctx context.Context) error {
	began := a.clock.Now()
	c, found, err := backup.Make(ctx, a.db, backup.Of(a.cfg, began))
	if err != nil {
		return err
	}
	a.log.Info("backup", "copy", c.Folder, "readings", found.Readings, "bytes", found.Bytes)
	if len(a.cfg.Backup.HandOn) > 0 {
		if err := backup.HandOn(ctx, a.cfg.Backup.HandOn, c); err != nil {
			return err
		}
	}
	_, err = backup.Thin(a.cfg.Backup.Folder, a.cfg.Backup.Keep, c)
	return err
}
