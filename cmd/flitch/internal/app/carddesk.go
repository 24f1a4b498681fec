package app

import (
	"context"
	"slices"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

const (
	cardBefore  = time.Hour          // of readings before an alarm's condition began, to see what it was at (proposal)
	lateMains   = 24 * time.Hour     // how far back mains may have been off that are told of late (proposal)
	cardLongest = 7 * 24 * time.Hour // of one card; an alarm may stand for longer (proposal)
)

// cards are what is known of the matter of an alarm: H5 opens the stall card, H3 and H4
// that of a lost heat, what is about the cold the power card (job of the trade, 4.4).
func (r *reader) cards(_ context.Context, a web.Alarm) (web.Cards, error) {
	switch a.Entry {
	case "H3", "H4", "H5":
		return r.hotCard(a)
	case "C1", "C2", "C3", "C8", "B5", "B5l":
		return r.powerCard(a)
	}
	return web.Cards{}, nil
}

// ends is until when a card tells: the alarm's end, or now.
func (r *reader) ends(a web.Alarm) time.Time {
	if !a.ClearedAt.IsZero() {
		return a.ClearedAt
	}
	return r.app.clock.Now()
}

// hotCard is of a batch that is still known; a stall is about now, and only of an open one.
func (r *reader) hotCard(a web.Alarm) (out web.Cards, err error) {
	_, id, ok := strings.Cut(a.Subject, "batch ")
	if !ok {
		return out, nil
	}
	b, err := r.load(id)
	if err != nil {
		return out, err
	}
	out.Batch = b.ID
	now := r.app.clock.Now()
	if !b.Open() {
		now = b.Closed
	}
	if a.Entry == "H5" {
		if b.Open() {
			c := b.StallCard(now)
			out.Stall = &c
		}
		return out, nil
	}
	chamber, cores := process.Readings{}, map[string]process.Readings{}
	for _, t := range b.Tracks {
		if t.Probe.Placement != process.Chamber && t.Probe.Placement != process.Core {
			continue
		}
		readings, err := r.readings(b, t, b.HeatEntered(), now)
		if err != nil {
			return out, err
		}
		if t.Probe.Placement == process.Core {
			cores[t.Probe.Piece] = readings
		} else if len(chamber.Samples) == 0 {
			chamber = readings
		}
	}
	c := b.OffCard(a.Since, now, chamber, cores)
	out.Off = &c
	return out, nil
}

// readings are those of a track that count, as the record has them.
func (r *reader) readings(b *process.Batch, t *process.Track, from, to time.Time) (process.Readings, error) {
	out := process.Readings{Spacing: t.Probe.Allowed()}
	if begin := to.Add(-cardLongest); from.Before(begin) {
		from = begin
	}
	list := flagged(b, t, r.app.engine.Places(), to)
	err := r.app.db.EachReading([]string{t.Probe.Probe}, from, to.Add(time.Millisecond), func(_ int64, m process.Reading) error {
		if row := counted(t, list, m); row.Quality != process.Bad {
			out.Samples = append(out.Samples, process.Sample{At: row.Measured, Value: row.Value})
		}
		return nil
	})
	return out, err
}

// powerCard is of a cold place, with or without a batch inside.
func (r *reader) powerCard(a web.Alarm) (out web.Cards, err error) {
	places := r.app.engine.Places()
	at := slices.IndexFunc(places, func(p *process.Place) bool { return p.Subject() == a.Subject })
	if at < 0 {
		return out, nil
	}
	p, to, since := places[at], r.ends(a), a.Since
	if a.Entry == "B5l" {
		since = since.Add(-lateMains)
	}
	var cold process.ColdReadings
	for i := range p.Probes {
		t := &p.Probes[i]
		into := map[process.Placement]*process.Readings{process.Product: &cold.Product, process.Air: &cold.Air, process.Power: &cold.Mains, process.Door: &cold.Door}[t.Probe.Placement]
		if into == nil || len(into.Samples) > 0 {
			continue
		}
		if *into, err = r.placeReadings(t, since.Add(-cardBefore), to); err != nil {
			return out, err
		}
	}
	c := p.PowerCard(since, to, a.Entry == "B5" || a.Entry == "B5l", cold)
	out.Power = &c
	for _, b := range r.app.engine.Batches() {
		if slices.ContainsFunc(b.Tracks, func(t *process.Track) bool { return t.Probe.Place == p.Name }) {
			out.Batches = append(out.Batches, b.ID)
		}
	}
	return out, nil
}

// placeReadings are those of a probe of a place that count by what the place knows.
func (r *reader) placeReadings(t *process.PlaceProbe, from, to time.Time) (process.Readings, error) {
	out := process.Readings{Spacing: t.Probe.Allowed()}
	if begin := to.Add(-cardLongest); from.Before(begin) {
		from = begin
	}
	as := &process.Track{Probe: t.Probe, Checks: t.Checks, Sieve: t.Sieve}
	err := r.app.db.EachReading([]string{t.Probe.Probe}, from, to.Add(time.Millisecond), func(_ int64, m process.Reading) error {
		if row := counted(as, t.Flagged, m); row.Quality != process.Bad {
			out.Samples = append(out.Samples, process.Sample{At: row.Measured, Value: row.Value})
		}
		return nil
	})
	return out, err
}
