package app

import (
	"fmt"
	"sync"
	"time"

	"flitch/process"
	"flitch/process/chart"
	"flitch/process/series"
	"flitch/store"
)

// forgetAfter is how long the readings of a closed batch are kept after somebody last
// looked at its chart. (proposal)
const forgetAfter = time.Hour

// A chartDesk keeps of the readings of each batch what a chart can show: a week of one
// probe is 120,960 rows, too many to read each time somebody looks. It reads them once,
// and then only what was taken in since, by the number in the log, so that late readings
// are not missed. Nothing of it is state: lost, it is read again, and the chart is the same.
type chartDesk struct {
	db      *store.DB
	mu      sync.Mutex
	newest  int64 // all readings up to this number are in
	batches map[string]*keptBatch
}

// A keptBatch is the lines of one batch, by probe.
type keptBatch struct {
	from, to time.Time // to: zero while the batch is open
	asked    time.Time
	probes   map[string]*series.Series
}

// lines returns the lines of a batch, as of now, between two moments.
func (d *chartDesk) lines(b *process.Batch, now, from, to time.Time) ([]chart.Line, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.forget(now)
	if err := d.follow(); err != nil {
		return nil, err
	}
	kept, err := d.batch(b)
	if err != nil {
		return nil, err
	}
	kept.asked = now
	var out []chart.Line
	for _, t := range b.Tracks {
		s := kept.probes[t.Probe.Probe]
		begin, end, ok := b.Wanted(t)
		if s == nil || !ok {
			continue
		}
		out = append(out, chart.Line{Probe: t.Probe.Probe, Placement: t.Probe.Placement, Piece: t.Probe.Piece, Interval: t.Probe.Interval,
			From: begin, To: end, Readings: s.Between(from.Add(-series.Longest), to.Add(2*series.Longest))})
	}
	return out, nil
}

// forget drops closed batches nobody looked at for a while.
func (d *chartDesk) forget(now time.Time) {
	for id, k := range d.batches {
		if !k.to.IsZero() && now.Sub(k.asked) > forgetAfter {
			delete(d.batches, id)
		}
	}
}

// follow deals out what was taken in since the last time.
func (d *chartDesk) follow() error {
	if len(d.batches) == 0 {
		newest, err := d.db.NewestReading()
		d.newest = newest
		return err
	}
	return d.db.EachReadingAfter(d.newest, func(seq int64, r process.Reading) error {
		d.newest = seq
		for _, k := range d.batches {
			k.add(r)
		}
		return nil
	})
}

// batch is what is kept of a batch, read from the database the first time. It may then
// hold readings that come again when it follows; that changes nothing.
func (d *chartDesk) batch(b *process.Batch) (*keptBatch, error) {
	if k := d.batches[b.ID]; k != nil && k.to.Equal(b.Closed) {
		return k, nil
	}
	k := &keptBatch{from: b.Started.Add(-series.Longest), to: b.Closed, probes: map[string]*series.Series{}}
	for _, t := range b.Tracks {
		if !t.Probe.Placement.IsTemperature() {
			continue
		}
		k.probes[t.Probe.Probe] = new(series.Series)
		err := d.db.EachReading([]string{t.Probe.Probe}, k.from, k.end(), func(_ int64, r process.Reading) error {
			k.add(r)
			return nil
		})
		if err != nil {
			return nil, fmt.Errorf("read %s for the chart: %w", t.Probe.Probe, err)
		}
	}
	if d.batches == nil {
		d.batches = map[string]*keptBatch{}
	}
	d.batches[b.ID] = k
	return k, nil
}

// end is the last moment a reading may be of, in whole cells; zero is open.
func (k *keptBatch) end() time.Time {
	if k.to.IsZero() {
		return time.Time{}
	}
	return k.to.Truncate(series.Longest).Add(series.Longest)
}

// add puts in a reading of one of the batch's probes. Bad ones are not drawn.
func (k *keptBatch) add(r process.Reading) {
	s := k.probes[r.Probe]
	if s == nil || r.Quality == process.Bad || r.Measured.Before(k.from) || !k.end().IsZero() && !r.Measured.Before(k.end()) {
		return
	}
	s.Add(r.Measured, r.Value)
}
