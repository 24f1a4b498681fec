package app

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/record"
	"flitch/store"
)

// A reader answers what the page and the interface ask: open batches from the
// engine's memory, closed ones and the past from the database.
type reader struct {
	app   *App
	site  record.Site
	cooks cookDesk
	today todayDesk
	chart chartDesk
	still *stillness // nil: as things stand now
}

// Glances implements web.Reader.
func (r *reader) Glances(ctx context.Context) ([]web.Glance, error) {
	alarms, err := r.newestAndStanding(50)
	if err != nil {
		return nil, err
	}
	places := r.app.engine.Places()
	var out []web.Glance
	open := r.app.engine.Batches()
	r.cooks.forget(open)
	for _, b := range open {
		g := glancer{batch: b, places: places, now: r.app.clock.Now(), site: web.For(ctx, r.site), alarms: alarms, cooks: &r.cooks, today: r.today.above(r.app.db, b, places, r.app.clock.Now(), r.site)}
		out = append(out, g.glance())
	}
	sortGlances(out)
	return out, nil
}

// Alarms implements web.Reader.
func (r *reader) Alarms(context.Context) ([]web.Alarm, error) {
	return r.newestAndStanding(200)
}

// newestAndStanding lists the newest alarms, and all that stand however old: notes of
// an opened lid must not push a ringing fridge out of sight. Newest first.
func (r *reader) newestAndStanding(newest int) ([]web.Alarm, error) {
	list, err := r.app.db.Occurrences(store.OccurrenceFilter{Limit: newest})
	if err != nil {
		return nil, err
	}
	standing, err := r.app.db.Occurrences(store.OccurrenceFilter{Active: true})
	if err != nil {
		return nil, err
	}
	for _, o := range standing {
		if len(list) == newest && o.Number < list[newest-1].Number {
			list = append(list, o)
		}
	}
	return r.app.listed(list)
}

func actions(entries []alerts.Entry) map[string]string {
	out := map[string]string{}
	for _, e := range entries {
		out[e.ID] = e.Action
	}
	return out
}

// Batches implements web.Reader.
func (r *reader) Batches(context.Context) ([]web.Summary, error) {
	heads, err := r.app.db.BatchHeads()
	if err != nil {
		return nil, err
	}
	out := make([]web.Summary, 0, len(heads))
	for i := len(heads) - 1; i >= 0; i-- {
		one, err := r.summaryOf(heads[i])
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}

// summaryOf is one line of the list. Of a closed batch it is kept: after years there are hundreds,
// each of 100 KB to be read.
func (r *reader) summaryOf(head store.BatchHead) (web.Summary, error) {
	if known, ok := r.app.summaries.Load(head); ok {
		return known.(web.Summary), nil
	}
	b, err := r.load(head.ID)
	if err != nil {
		return web.Summary{}, err
	}
	s := summary(b, r.app.clock.Now())
	if head.Status == batchClosed && !b.Open() {
		r.app.summaries.Store(head, s)
	}
	return s, nil
}

func summary(b *process.Batch, now time.Time) web.Summary {
	return web.Summary{ID: b.ID, Product: b.Plan.Title, Recipe: b.Plan.Name, Started: b.Started, Closed: b.Closed, Stage: b.Stage().Name, Held: b.Holds(now), Waits: b.WaitsForReview()}
}

// load returns a batch as it stands now.
func (r *reader) load(id string) (*process.Batch, error) {
	if r.still != nil {
		return r.still.batch, nil
	}
	if b, open := r.app.engine.Batch(id); open {
		return b, nil
	}
	row, found, err := r.app.db.Batch(id)
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, &process.Refusal{What: fmt.Sprintf("there is no batch %q", id), Hint: "list them with: flitch batch list", NotFound: true}
	}
	b := new(process.Batch)
	if err := json.Unmarshal(row.State, b); err != nil {
		return nil, fmt.Errorf("stored batch %s: %w", id, err)
	}
	return b, nil
}

// Batch implements api.Reader.
func (r *reader) Batch(ctx context.Context, id string) (api.Batch, error) {
	b, err := r.load(id)
	if err != nil {
		return api.Batch{}, err
	}
	rec, err := r.head(b)
	if err != nil {
		return api.Batch{}, err
	}
	out := api.Batch{Summary: summary(b, r.app.clock.Now()), Actions: rec.Actions, Dispositions: rec.Dispositions, Reviews: rec.Reviews, By: b.By, Class: b.Plan.Class, Plan: rec.Head.Plan, Pieces: b.Pieces, Doses: b.DosesInForce(),
		Stages: rec.Stages, Clocks: rec.Clocks, Deviations: rec.Deviations, Entries: rec.Entries,
		LeftOut: leftOut(b, r.app.engine.Places(), r.app.clock.Now())}
	for _, t := range b.Tracks {
		out.Probes = append(out.Probes, t.Probe)
	}
	for _, a := range rec.Alarms {
		out.Alarms = append(out.Alarms, web.Alarm{Occurrence: a.Occurrence, LevelName: a.LevelName, Action: a.Action, Told: record.Tellings(a.Messages)})
	}
	return out, nil
}

// span is the time a batch covers until now.
func span(b *process.Batch, now time.Time) (from, to time.Time) {
	if !b.Closed.IsZero() {
		now = b.Closed
	}
	return b.Started, now
}
