package ingest

import (
	"time"

	"flitch/process"
)

// While the store fails, what comes in is taken all the same: judged, handed on to be
// evaluated in memory, and held to be stored when the store works again. Nothing of it is
// acknowledged before that. What there is no room for is evaluated and counted.

// heldMost bounds what is held, bytes by estimate: twelve probes at 5 s for two hours.
// Own bound, for a board of little memory.
const heldMost = 8 << 20

// heldReading and heldMessage are what one takes beside its payload, bytes: estimates.
const (
	heldReading = 256
	heldMessage = 256
)

// A Gap is a time in which the store took nothing.
type Gap struct {
	From, To time.Time
	Held     int            // readings that waited in memory and were stored then
	Lost     map[string]int // by probe: readings there was no room for; those of a sensor that sends them again come all the same
}

// A heldKey is what the store knows a reading by.
type heldKey struct {
	probe string
	ms    int64
}

// A hold is what waits. It belongs to the goroutine of Run.
type hold struct {
	batches []*batch
	keys    map[heldKey]bool
	bytes   int
	gap     Gap
}

// pause waits while the store fails, and takes meanwhile what comes in. It returns false
// when giveUp closes.
func (in *Intake) pause(d time.Duration, giveUp <-chan struct{}) bool {
	over := in.clock.After(d)
	for {
		select {
		case <-over:
			return true
		case <-giveUp:
			return false
		case it := <-in.queue:
			in.take(it)
		}
	}
}

// take judges a message that cannot be stored now.
func (in *Intake) take(it *item) {
	b := &batch{told: true}
	_ = b.add(it, func(probe string, ms int64) (bool, error) { // it does not fail: nobody is asked
		return b.holds(probe, ms) || in.held.keys[heldKey{probe, ms}], nil
	})
	b.absorb(in.held.keys)
	if cost := b.cost(); in.held.bytes+cost > heldMost {
		in.lose(b)
	} else {
		in.keep(b, cost)
	}
	in.leaveLarge(b) // what is held is bounded in bytes
	in.opts.Heard(b.readings, false)
}

func (b *batch) cost() (bytes int) {
	for _, it := range b.items {
		bytes += heldMessage + len(it.raw)
	}
	return bytes + heldReading*len(b.readings)
}

// absorb drops the readings that are held already: they came again.
func (b *batch) absorb(held map[heldKey]bool) {
	fresh := b.readings[:0]
	for _, r := range b.readings {
		if held[heldKey{r.Probe, r.Measured.UnixMilli()}] {
			b.absorbed++
			continue
		}
		fresh = append(fresh, r)
	}
	b.readings = fresh
}

// keep holds a batch.
func (in *Intake) keep(b *batch, cost int) {
	if in.held.keys == nil {
		in.held.keys = map[heldKey]bool{}
	}
	for _, r := range b.readings {
		in.held.keys[heldKey{r.Probe, r.Measured.UnixMilli()}] = true
	}
	in.held.bytes += cost
	in.held.batches = append(in.held.batches, b)
	b.waits = len(b.readings)
	in.waiting.Add(int64(b.waits))
}

// lose counts what there is no room for. It is not acknowledged: a source that can sends
// it again on its next connection.
func (in *Intake) lose(b *batch) {
	if in.held.gap.Lost == nil {
		in.held.gap.Lost = map[string]int{}
	}
	for _, r := range b.readings {
		in.held.gap.Lost[r.Probe]++
	}
}

// storeHeld stores what was held, in order, once the store works again, and tells of the
// gap.
func (in *Intake) storeHeld(giveUp <-chan struct{}, acks chan<- []*item) error {
	for len(in.held.batches) > 0 {
		b := in.held.next(in.opts.MaxBatch)
		if err := in.finish(b, giveUp, acks); err != nil {
			return err
		}
		in.held.release(b)
	}
	if gap := in.held.gap; !gap.From.IsZero() {
		gap.To = in.clock.Now()
		in.held = hold{}
		in.opts.Gap(gap)
	}
	return nil
}

// next takes out what fits into one transaction.
func (h *hold) next(most int) *batch {
	first := h.batches[0]
	n := 1
	for ; n < len(h.batches) && n < most; n++ {
		b := h.batches[n]
		first.items = append(first.items, b.items...)
		first.readings = append(first.readings, b.readings...)
		first.rejected = append(first.rejected, b.rejected...)
		first.absorbed, first.waits = first.absorbed+b.absorbed, first.waits+b.waits
	}
	clear(h.batches[:n])
	h.batches = h.batches[n:]
	return first
}

// release gives back the room of a batch that is stored: the store may fail again before the
// others are.
func (h *hold) release(b *batch) {
	h.bytes -= b.cost()
	for _, r := range b.readings {
		delete(h.keys, heldKey{r.Probe, r.Measured.UnixMilli()})
	}
}

// Unstored returns how many readings are held that are not on disk.
func (in *Intake) Unstored() int { return int(in.waiting.Load()) }

// hear hands the readings on of a batch that was not stored, once.
func (in *Intake) hear(b *batch, stored bool) {
	if b.told || len(b.readings) == 0 {
		return
	}
	b.told = true
	if !stored {
		b.waits = len(b.readings)
		in.waiting.Add(int64(b.waits))
	}
	in.opts.Heard(b.readings, stored)
}

// stored notes that a batch is on disk.
func (in *Intake) stored(b *batch) {
	in.hear(b, true)
	in.held.gap.Held += b.waits
	in.waiting.Add(-int64(b.waits))
}

// A listener hears readings: stored ones, and those that are not on disk.
type listener = func(readings []process.Reading, stored bool)
