package ingest

import (
	"context"
	"fmt"
	"time"
)

// work is the loop: one batch after the other, until ctx ends and the queue is
// empty, or giveUp closes while the store fails.
func (in *Intake) work(ctx context.Context, giveUp <-chan struct{}, acks chan<- []*item) error {
	for {
		select {
		case first := <-in.queue:
			if err := in.turn(ctx, giveUp, first, acks); err != nil {
				in.close()
				return err
			}
		case <-ctx.Done():
			in.close()
			return in.drain(ctx, giveUp, acks)
		}
	}
}

// drain stores what is left in a closed queue.
func (in *Intake) drain(ctx context.Context, giveUp <-chan struct{}, acks chan<- []*item) error {
	for len(in.queue) > 0 {
		if err := in.turn(ctx, giveUp, <-in.queue, acks); err != nil {
			return err
		}
	}
	return nil
}

// turn stores one batch that starts with first and hands it to the acker.
func (in *Intake) turn(ctx context.Context, giveUp <-chan struct{}, first *item, acks chan<- []*item) error {
	b := in.judge(in.gather(ctx, first))
	if err := in.finish(b, giveUp, acks); err != nil {
		return err
	}
	return in.storeHeld(giveUp, acks)
}

// finish stores a batch and hands it to the acker.
func (in *Intake) finish(b *batch, giveUp <-chan struct{}, acks chan<- []*item) error {
	if err := in.commit(b, giveUp); err != nil {
		left := len(b.items) + len(in.queue)
		for _, held := range in.held.batches {
			left += len(held.items)
		}
		return fmt.Errorf("%d messages were not stored and not acknowledged: %w", left, err)
	}
	in.leaveLarge(b)
	acks <- b.items
	return nil
}

// leaveLarge makes room for other messages with many readings, once.
func (in *Intake) leaveLarge(b *batch) {
	for _, it := range b.items {
		if it.large {
			it.large = false
			<-in.large
		}
	}
}

// gather takes what waits, at most MaxBatch, and lingers for more if told to.
func (in *Intake) gather(ctx context.Context, first *item) []*item {
	items := append(make([]*item, 0, 1+len(in.queue)), first)
	var linger <-chan time.Time
	if in.opts.Linger > 0 && ctx.Err() == nil {
		linger = in.clock.After(in.opts.Linger)
	}
	for len(items) < in.opts.MaxBatch {
		select {
		case it := <-in.queue:
			items = append(items, it)
			continue
		default:
		}
		if linger == nil {
			return items
		}
		select {
		case it := <-in.queue:
			items = append(items, it)
		case <-linger:
			linger = nil
		case <-ctx.Done():
			linger = nil
		}
	}
	return items
}

// judge makes a batch of items. A store that cannot be asked whether it has a reading of
// a doubtful time is taken to have none: rather twice than not at all.
func (in *Intake) judge(items []*item) *batch {
	b := &batch{items: make([]*item, 0, len(items))}
	isTaken := func(probe string, ms int64) (bool, error) {
		if b.holds(probe, ms) {
			return true, nil
		}
		has, err := in.store.HasReading(probe, time.UnixMilli(ms).UTC())
		if err != nil {
			in.fails(err)
		}
		return has && err == nil, nil
	}
	for _, it := range items {
		_ = b.add(it, isTaken) // it fails as isTaken does
	}
	return b
}

// commit stores the batch and reports it.
func (in *Intake) commit(b *batch, giveUp <-chan struct{}) error {
	var done Committed
	if len(b.readings) > 0 || len(b.rejected) > 0 {
		began := in.clock.Now()
		err := in.insist(giveUp, func() (err error) {
			if done, err = in.store.CommitIntake(b.readings, b.rejected); err != nil {
				in.hear(b, false)
				in.leaveLarge(b) // one batch, and who waits at the door holds up all behind it
			}
			return err
		})
		if err != nil {
			return err
		}
		in.stored(b)
		in.opts.Observe.Committed(in.clock.Now().Sub(began))
		in.opts.Notify(done.LastSeq)
	}
	in.count(b, done)
	for _, it := range b.items {
		for _, v := range it.vitals {
			in.opts.Vital(v)
		}
		for _, s := range it.said {
			in.opts.Said(s)
		}
		in.call(it.calls)
	}
	return nil
}
