package app

import (
	"encoding/json"
	"fmt"
	"slices"
	"sync"
	"time"

	"flitch/process"
	"flitch/process/chart"
	"flitch/process/record"
	cells "flitch/process/series"
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
	open    func(batch string) bool
	mu      sync.Mutex
	newest  int64 // all readings up to this number are in
	batches map[string]*keptBatch
}

// A keptBatch is the lines of one batch, by probe.
type keptBatch struct {
	from, to time.Time // to: zero while the batch is open
	asked    time.Time
	probes   map[string]*keptProbe
}

// A keptProbe is one line, and what makes of a stored reading one that is drawn: the unit
// that was told, the checks, and what was found not to count. All of it may change for
// readings long past, and then the line is read again.
type keptProbe struct {
	readings cells.Series
	track    *process.Track
	leftOut  []process.Flagged
	as       string // of the three, to see a change
}

// farAhead ends what is still being left out: nothing believed has come since.
var farAhead = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)

func newKept(t *process.Track) (*keptProbe, error) {
	p := &keptProbe{track: t}
	var spans [][]process.Gap
	for _, f := range t.Flagged {
		if record.InDoubt(f.Reason) {
			continue
		}
		if n := len(f.Spans); f.Open && f.More == 0 && n > 0 {
			f.Spans = slices.Clone(f.Spans) // it grows with each reading, and would be read again each time
			f.Spans[n-1].To = farAhead
		}
		p.leftOut, spans = append(p.leftOut, f), append(spans, f.Spans)
	}
	as, err := json.Marshal([]any{t.Checks, t.Sieve.Unit.Turns, spans})
	p.as = string(as)
	return p, err
}

// add puts in a reading as it counts. Bad ones are not drawn.
func (p *keptProbe) add(r process.Reading) {
	if row := counted(p.track, p.leftOut, r); row.Quality != process.Bad {
		p.readings.Add(row.Measured, row.Value)
	}
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
		p := kept.probes[t.Probe.Probe]
		begin, end, ok := b.Wanted(t)
		if p == nil || !ok {
			continue
		}
		out = append(out, chart.Line{Probe: t.Probe.Probe, Placement: t.Probe.Placement, Piece: t.Probe.Piece, Interval: t.Probe.Interval,
			From: begin, To: end, Readings: p.readings.Between(from.Add(-cells.Longest), to.Add(2*cells.Longest))})
	}
	return out, nil
}

// forget drops closed batches nobody looked at for a while. One that was closed after somebody
// looked goes at once: each reading would be added to it for ever, and it is read anew as
// closed.
func (d *chartDesk) forget(now time.Time) {
	for id, k := range d.batches {
		if k.to.IsZero() && !d.open(id) || !k.to.IsZero() && now.Sub(k.asked) > forgetAfter {
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

// batch is what is kept of a batch; each of its lines is read from the database the first
// time, and when its readings are seen in another way. It may then hold readings that come
// again when it follows; that changes nothing.
func (d *chartDesk) batch(b *process.Batch) (*keptBatch, error) {
	k := d.batches[b.ID]
	if k == nil || !k.to.Equal(b.Closed) {
		k = &keptBatch{from: b.Started.Add(-cells.Longest), to: b.Closed, probes: map[string]*keptProbe{}}
	}
	for _, t := range b.Tracks {
		if !t.Probe.Placement.IsTemperature() {
			continue
		}
		p, err := newKept(t)
		if err != nil {
			return nil, fmt.Errorf("chart of %s: %w", t.Probe.Probe, err)
		}
		if old := k.probes[t.Probe.Probe]; old != nil && old.as == p.as {
			continue
		}
		err = d.db.EachReading([]string{t.Probe.Probe}, k.from, k.end(), func(_ int64, r process.Reading) error {
			p.add(r)
			return nil
		})
		if err != nil {
			return nil, fmt.Errorf("read %s for the chart: %w", t.Probe.Probe, err)
		}
		k.probes[t.Probe.Probe] = p
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
	return k.to.Truncate(cells.Longest).Add(cells.Longest)
}

// add puts in a reading of one of the batch's probes.
func (k *keptBatch) add(r process.Reading) {
	p := k.probes[r.Probe]
	if p == nil || r.Measured.Before(k.from) || !k.end().IsZero() && !r.Measured.Before(k.end()) {
		return
	}
	p.add(r)
}
