package app

import (
	"context"
	"io"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/store"
)

// Settle returns when everything that was acknowledged is evaluated and every
// message that is due now has been tried. It is for those who step the clock.
func (a *App) Settle(ctx context.Context) error {
	if a.house != nil {
		a.tellClock(ctx)
	}
	if err := a.engine.CatchUp(ctx); err != nil {
		return err
	}
	a.outbox.Wake() // one that is about to wait would wait from the new time on
	for _, name := range a.outbox.Names() {
		if err := a.tried(ctx, name); err != nil {
			return err
		}
	}
	return nil
}

// tried waits until the channel has nothing due, or is waiting to try again.
func (a *App) tried(ctx context.Context, channel string) error {
	for {
		due, err := a.db.DueMessages(channel, a.clock.Now(), 1)
		if err != nil || len(due) == 0 || due[0].Attempts > 0 && !due[0].Unfinished {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Millisecond):
		}
	}
}

// Do takes what a person said, as the page and the interface do.
func (a *App) Do(ctx context.Context, c process.Command) error { return a.engine.Do(ctx, c) }

// Alarm returns the number of the standing alarm of a catalogue entry that nobody
// has acknowledged, and false when there is none.
func (a *App) Alarm(entry string) (number int64, standing bool, err error) {
	list, err := a.db.Occurrences(store.OccurrenceFilter{Active: true})
	for _, o := range list {
		if o.Entry == entry && o.AcknowledgedAt.IsZero() {
			return o.Number, true, err
		}
	}
	return 0, false, err
}

// WriteRecord writes the record of a batch for an inspector: format is csv, xlsx, pdf, html,
// json or proof.
func (a *App) WriteRecord(ctx context.Context, id, format string, w io.Writer) error {
	return a.WriteRecordFile(ctx, id, api.RecordFile{Format: format}, w)
}

// WriteRecordFile writes the record of a batch as it is asked for.
func (a *App) WriteRecordFile(ctx context.Context, id string, asked api.RecordFile, w io.Writer) error {
	r := &reader{app: a, site: a.site()}
	if asked.Format == "proof" {
		return r.Proof(ctx, id, w)
	}
	rec, err := r.Record(ctx, id)
	if err != nil {
		return err
	}
	write, err := asked.Writer(rec)
	if err != nil {
		return err
	}
	return write(w)
}

// Clocks returns the clocks of a batch as they stand now.
func (a *App) Clocks(id string) ([]process.Clock, process.Verdict, error) {
	b, err := (&reader{app: a}).load(id)
	if err != nil {
		return nil, "", err
	}
	now := a.clock.Now()
	return b.Clocks(now), b.Verdict(now), nil
}
