package engine

import (
	"fmt"
	"iter"
	"slices"
	"time"

	"flitch/process"
)

// recountEvery bounds how often a stream of late readings makes a batch be
// computed anew.
const recountEvery = 10 * time.Second

// recountLate computes anew each batch that something late has touched. Open
// questions of alarms go on as they are: late data never ring.
func (e *Engine) recountLate() error {
	now := e.Clock.Now()
	if now.Sub(e.recount) < recountEvery {
		return nil
	}
	for _, b := range slices.Clone(e.house.open) {
		if !b.NeedsRecount {
			continue
		}
		e.recount = now
		if err := e.recountBatch(b); err != nil {
			return err
		}
	}
	return nil
}

func (e *Engine) recountBatch(b *process.Batch) error {
	history, err := e.history(b)
	if err != nil {
		return fmt.Errorf("engine: recount batch %s: %w", b.ID, err)
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	e.house.Recount(b, history[0], slicesAfter(history, 1))
	return nil
}

func slicesAfter(inputs []process.Input, n int) iter.Seq[process.Input] {
	return slices.Values(inputs[n:])
}

// history returns everything the batch has seen, in the order it happened.
func (e *Engine) history(b *process.Batch) ([]process.Input, error) {
	inputs, err := e.Store.Commands(b.ID)
	if err != nil {
		return nil, err
	}
	began := inputs[0].Seq
	said, err := e.Store.Commands("") // what was said of the house: checks of its probes too
	if err != nil {
		return nil, err
	}
	for _, in := range said {
		if c := in.Command; c.Kind == process.CommandChecked && in.Seq > began && c.Check != nil && b.Uses(c.Check.Probe) {
			inputs = append(inputs, in)
		}
	}
	inputs = slices.DeleteFunc(inputs, func(in process.Input) bool { return in.Seq > e.cursor })
	probes := make([]string, len(b.Tracks))
	for i, t := range b.Tracks {
		probes[i] = t.Probe.Probe
	}
	err = e.Store.EachReading(probes, b.Started.Add(-time.Hour), b.Now.Add(time.Hour), func(seq int64, r process.Reading) error {
		if seq > began && seq <= e.cursor {
			inputs = append(inputs, process.Input{Seq: seq, Kind: process.InputReading, Reading: r})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(inputs[1:], func(a, b process.Input) int { return a.EventTime().Compare(b.EventTime()) })
	return inputs, nil
}
