package app

import (
	"context"
	"fmt"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/store"
)

const (
	// testLate is how long after its hour a test ring still goes out, for a machine
	// that was off: later it would no longer be a civil hour. Proposal.
	testLate = 2 * time.Hour
	// testLook bounds how long the loop sleeps, because the clock may be set.
	testLook = time.Hour
)

// weekly sends the test ring to every channel once a week until ctx ends. What
// becomes of it is the outbox's: a way that fails is an alarm like any other.
func (a *App) weekly(ctx context.Context) error {
	last, err := a.lastTest()
	for {
		if err == nil {
			err = a.testIfDue(&last)
		}
		wait := testLook
		if err != nil {
			a.log.Error("test ring not stored, trying again", "err", err)
			wait = time.Minute
		} else if next := testAfter(a.cfg.TestRing, a.cfg.Site.Zone, a.clock.Now()); next.Sub(a.clock.Now()) < wait {
			wait = next.Sub(a.clock.Now())
		}
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(wait):
		}
		if err != nil {
			last, err = a.lastTest()
		}
	}
}

// lastTest is the hour of the newest test ring that was stored.
func (a *App) lastTest() (last time.Time, err error) {
	all, err := a.db.MessagesOf(0)
	for _, m := range all {
		if m.Kind == alerts.TestRing && m.Due.After(last) {
			last = m.Due
		}
	}
	return last, err
}

// testIfDue stores the messages of a test whose hour has come. They are due at
// that hour, so that a restart finds them and does not ring again.
func (a *App) testIfDue(last *time.Time) error {
	now := a.clock.Now()
	hour := testBefore(a.cfg.TestRing, a.cfg.Site.Zone, now)
	if !hour.After(*last) || now.Sub(hour) > testLate {
		return nil
	}
	err := a.db.Update(func(tx *store.Tx) error {
		for _, m := range policy(a.cfg).Test(hour) {
			if err := a.enqueue(tx, m); err != nil {
				return fmt.Errorf("test ring: %w", err)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	*last = hour
	a.outbox.Wake()
	return nil
}

// testBefore is the latest hour of a test ring that is not after now.
func testBefore(c config.TestRing, zone *time.Location, now time.Time) time.Time {
	for back := 0; ; back++ {
		if at := testOn(c, zone, now, -back); at.Weekday() == c.Day && !at.After(now) {
			return at.UTC()
		}
	}
}

// testAfter is the first hour of a test ring after now.
func testAfter(c config.TestRing, zone *time.Location, now time.Time) time.Time {
	for ahead := 0; ; ahead++ {
		if at := testOn(c, zone, now, ahead); at.Weekday() == c.Day && at.After(now) {
			return at.UTC()
		}
	}
}

// testOn is the hour of the test on the day so many days from now, as the clock
// on the wall shows it. One that is shown twice counts once; one that the clocks
// skip is an hour off.
func testOn(c config.TestRing, zone *time.Location, now time.Time, days int) time.Time {
	year, month, day := now.In(zone).Date()
	return time.Date(year, month, day+days, c.Hour, c.Minute, 0, 0, zone)
}
