package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/engine"
	"flitch/process/record"
	"flitch/store"
)

// Record implements api.Reader.
func (r *reader) Record(ctx context.Context, id string) (*record.Record, error) {
	b, err := r.load(id)
	if err != nil {
		return nil, err
	}
	if err := r.sealed(ctx, b); err != nil {
		return nil, err
	}
	rec, err := r.head(b)
	if err != nil {
		return nil, err
	}
	newest, err := r.newest() // what comes while it is written, late or not, is no part of it
	if err != nil {
		return nil, err
	}
	from, to := span(b, rec.MadeAt)
	to = to.Add(time.Millisecond) // the reading of this very moment too
	rec.Readings = r.rows(ctx, b, from, to, newest)
	rec.Data = probeData(b, from, to)
	places, err := r.placesOf(b)
	if err != nil {
		return nil, err
	}
	r.checked(b, places, rec.Data)
	r.addPhotos(rec)
	return rec, nil
}

// head is the record without its readings.
func (r *reader) head(b *process.Batch) (*record.Record, error) {
	now := r.now()
	rec := r.said(b)
	places, err := r.placesOf(b)
	if err != nil {
		return nil, err
	}
	rec.Clocks, rec.Estimates, rec.Happenings = doubted(b, now, places, r.site), b.Estimates(), b.Happenings
	rec.Deviations = append(deviations(rec.Clocks), doseDeviations(b)...)
	for i := range rec.Deviations {
		rec.Deviations[i].Number = i + 1
	}
	if rec.Alarms, err = r.alarms(b); err != nil {
		return nil, err
	}
	if rec.Chain, err = r.chain(b); err != nil {
		return nil, err
	}
	counts, err := r.app.db.RejectedBetween(span(b, now))
	rec.Rejected = counts
	if err != nil {
		return nil, err
	}
	if rec.DiskGaps, err = r.diskGaps(b); err != nil {
		return nil, err
	}
	r.addPapers(rec, b)
	return rec, nil
}

// said is what was said of a batch and planned for it: all that asks no database.
func (r *reader) said(b *process.Batch) *record.Record {
	rec := &record.Record{Site: r.site, MadeAt: r.now(), Limits: limits(b), Sets: settings(b), Entries: entries(b), Doses: b.Doses, Cost: b.CostInForce(), Plan: b.Plan,
		Head: record.Head{Product: b.Plan.Title, Class: b.Plan.Class, Batch: b.ID, By: b.By, Started: b.Started, Closed: b.Closed, End: b.End,
			Plan: record.PlanVersion{Name: b.Plan.Name, Version: b.Plan.Version, Hash: b.Plan.Hash}, Pieces: b.Pieces}}
	for _, s := range b.Stages {
		rec.Stages = append(rec.Stages, record.Stage(s))
	}
	return rec
}

// alarms lists what rang for the batch and for the places it was in, with who was
// told.
func (r *reader) alarms(b *process.Batch) ([]record.Alarm, error) {
	list, err := r.occurrences(b)
	if err != nil {
		return nil, err
	}
	rows, err := r.app.db.Alarms()
	if err != nil {
		return nil, err
	}
	judged, err := engine.Judgements(rows)
	if err != nil {
		return nil, err
	}
	actions := actions(catalogue(r.app.cfg))
	var out []record.Alarm
	for _, o := range list {
		a := record.Alarm{Occurrence: o, LevelName: o.Level.String(), Action: actions[o.Entry]}
		if j, is := judged[o.Number]; is {
			a.Judged = &j
		}
		if a.Messages, err = r.messages(o.Number); err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}

// occurrences are the alarms of the batch and of the places it was in, the oldest first:
// a record is read as a story.
func (r *reader) occurrences(b *process.Batch) ([]alerts.Occurrence, error) {
	from, to := span(b, r.now())
	list, err := r.app.db.Occurrences(store.OccurrenceFilter{From: from, To: to.Add(time.Second)})
	list = slices.DeleteFunc(list, func(o alerts.Occurrence) bool { return !concerns(b, o.Subject) })
	slices.Reverse(list)
	return list, err
}

// concerns reports whether an alarm's subject is the batch, one of its probes,
// one of its places, or flitch itself.
func concerns(b *process.Batch, subject string) bool {
	if _, id, ok := strings.Cut(subject, "batch "); ok {
		return id == b.ID
	}
	place, isPlace := "", false
	for _, kind := range []process.Where{process.WhereFridge, process.WhereSmoker, process.WhereFreezer, process.WhereRoom} {
		if _, name, ok := strings.Cut(subject, string(kind)+" "); ok {
			place, isPlace = name, true
		}
	}
	if !isPlace {
		return true
	}
	return slices.ContainsFunc(b.Tracks, func(t *process.Track) bool { return t.Probe.Place == place })
}

func (r *reader) messages(alarm int64) ([]record.Message, error) {
	list, err := r.app.db.MessagesOf(alarm)
	return r.app.messages(list), err
}

// counted is a stored reading of a track as it counts: in the unit that was told, corrected
// by the checks, and marked where it was found not to count. The record and the chart
// show the same.
func counted(t *process.Track, list []process.Flagged, m process.Reading) record.Row {
	sent, source := m.Value, record.Measured
	if m.IsImported() {
		source = record.Imported
	}
	m = process.Calibrated(t.Checks, asTold(m, &t.Sieve.Unit))
	return marked(record.Row{Corrected: m.Value < sent || m.Value > sent, Sent: sent, Measured: m.Measured, Received: m.Received, Piece: t.Probe.Piece,
		Placement: t.Probe.Placement, Probe: t.Probe.Probe, Value: m.Value, Quality: m.Quality, Reason: m.Reason, Source: source}, list)
}

// rows reads the readings of the batch up to the newest number, probe by probe, and the hand
// readings.
func (r *reader) rows(ctx context.Context, b *process.Batch, from, to time.Time, newest int64) record.Rows {
	return func(yield func(record.Row) error) error {
		places := r.app.engine.Places()
		for _, t := range b.Tracks {
			list := flagged(b, t, places, to)
			first, last := wanted(b, t, from, to)
			err := r.app.db.EachReadingSlowly(t.Probe.Probe, first, last, func(seq int64, m process.Reading) error {
				if err := ctx.Err(); err != nil || seq > newest {
					return err
				}
				row := counted(t, list, m)
				row.Batch = b.ID
				return yield(row)
			})
			if err != nil {
				return fmt.Errorf("read %s: %w", t.Probe.Probe, err)
			}
		}
		for _, e := range b.Doses {
			if err := yield(doseRow(b.ID, e)); err != nil {
				return err
			}
		}
		for _, h := range b.Hand {
			err := yield(record.Row{Measured: h.At, Received: h.Typed, Batch: b.ID, Piece: h.Piece, Placement: h.Placement,
				Probe: byHand(h), Value: h.Value, Source: record.Entered})
			if err != nil {
				return err
			}
		}
		if err := struckRows(b, yield); err != nil {
			return err
		}
		return photoRows(b, yield)
	}
}

// byHand names who read, and with what, where a row has room for a probe only.
func byHand(h process.HandEntry) string {
	if h.Text == "" {
		return "hand, " + h.By
	}
	return "hand, " + h.By + ", " + h.Text
}

// wanted is the part of a window in which the batch needs a probe: while it is in
// a stage the probe speaks for; a core from the first fire on.
func wanted(b *process.Batch, t *process.Track, from, to time.Time) (first, last time.Time) {
	begin, end, ok := b.Wanted(t)
	if !ok {
		return to, to
	}
	if begin.After(from) {
		from = begin
	}
	if !end.IsZero() && end.Before(to) {
		to = end
	}
	return from, to
}

func probeData(b *process.Batch, from, to time.Time) []record.ProbeData {
	out := make([]record.ProbeData, 0, len(b.Tracks))
	for _, t := range b.Tracks {
		d := record.ProbeData{PlacedProbe: t.Probe}
		d.Checks = t.Checks
		d.From, d.To = wanted(b, t, from, to)
		out = append(out, d)
	}
	return out
}
