package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/process/engine"
	"flitch/store"
)

// againAfter is when a backup that failed is tried again: a stick may be back. backupWithin is how
// long one may take, handing it on included, before it is told that it does not end. Proposals.
const (
	againAfter   = 10 * time.Minute
	backupWithin = time.Hour
)

// backups makes copies until ctx ends: a time after the newest there is, so that a
// start makes none and puts none off.
func (a *App) backups(ctx context.Context) error {
	for {
		r := a.bounded(ctx, a.backUpIfDue)
		switch {
		case ctx.Err() != nil:
			return nil
		case r.err != nil:
			a.log.Error("no backup", "err", r.err)
			a.faults.Set(engine.FaultBackup, r.err.Error())
			r.wait = min(againAfter, a.cfg.Backup.Every)
		default:
			a.recovered(engine.FaultBackup)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(min(r.wait, testLook)): // the clock may be set
		}
	}
}

// A backupRound is how one ended, and when the next is due.
type backupRound struct {
	wait time.Duration
	err  error
}

// bounded waits for one round of backups. A folder on a network, or a stick that dies, may keep a
// call for ever: that is told, and it holds up no stop.
func (a *App) bounded(ctx context.Context, round func(context.Context) backupRound) backupRound {
	ended := make(chan backupRound, 1)
	go func() { ended <- round(ctx) }()
	select {
	case r := <-ended:
		return r
	case <-ctx.Done():
	case <-a.clock.After(backupWithin):
		a.log.Error("a backup does not end", "folder", a.cfg.Backup.Folder)
		a.faults.Set(engine.FaultBackup, fmt.Sprintf("a copy was begun %v ago and has not ended: does %s answer?", backupWithin, a.cfg.Backup.Folder))
		select {
		case r := <-ended:
			return r
		case <-ctx.Done():
		}
	}
	select {
	case r := <-ended:
		return r
	case <-Wall{}.After(stopWithin):
		a.log.Error("a backup that does not end is left alone", "folder", a.cfg.Backup.Folder)
		return backupRound{err: ctx.Err()}
	}
}

// backUpIfDue makes a copy if it is time, and says when it is the next time. One that could not be
// handed on is handed on again until then.
func (a *App) backUpIfDue(ctx context.Context) backupRound {
	wait, err := a.untilBackup()
	switch {
	case err != nil:
		return backupRound{wait, err}
	case wait <= 0:
		return backupRound{a.cfg.Backup.Every, a.backUp(ctx)}
	}
	return backupRound{wait, a.handOn(ctx)}
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
	began, to := a.clock.Now(), a.cfg.Backup
	c, found, err := backup.Make(ctx, a.db, backup.Of(a.cfg, began))
	if store.IsFull(err) { // the next try has room, by what is the oldest
		_, gone := backup.Thin(to.Folder, to.Keep-1, backup.Copy{})
		return errors.Join(err, gone)
	}
	if err != nil {
		return err
	}
	a.log.Info("backup", "copy", c.Folder, "readings", found.Readings, "bytes", found.Bytes)
	_, err = backup.Thin(to.Folder, to.Keep, c)
	a.toHandOn = c
	return errors.Join(err, a.handOn(ctx))
}

// handOn brings the newest copy to another machine, if that is wanted and was not done.
func (a *App) handOn(ctx context.Context) error {
	if len(a.cfg.Backup.HandOn) == 0 || a.toHandOn.Folder == "" {
		return nil
	}
	err := backup.HandOn(ctx, a.cfg.Backup.HandOn, a.toHandOn)
	if err == nil {
		a.toHandOn = backup.Copy{}
	}
	return err
}
