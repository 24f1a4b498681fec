package app

import (
	"context"
	"fmt"
	"slices"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/record"
)

// A paperDesk lends the papers of batches to the page.
type paperDesk struct {
	*reader
	commander signedCommander
}

// mostOffers bounds the alarms that are offered for an action (proposal).
const mostOffers = 20

// Papers implements web.Papers.
func (d paperDesk) Papers(ctx context.Context, id, about string) (web.BatchPapers, error) {
	b, err := d.load(id)
	if err != nil {
		return web.BatchPapers{}, err
	}
	rec, err := d.head(b)
	if err != nil {
		return web.BatchPapers{}, err
	}
	now := d.app.clock.Now()
	out := web.BatchPapers{Summary: summary(b, now), Class: b.Plan.Class, By: b.By, End: b.End, Clocks: rec.Clocks, Verdict: b.Verdict(now), Held: rec.Held,
		Early: b.Stage().Name != b.Plan.Stages[len(b.Plan.Stages)-1].Name, Waits: b.WaitsForReview(), Deviations: rec.Deviations,
		Actions: rec.Actions, Dispositions: rec.Dispositions, Reviews: rec.Reviews, Offers: offers(rec), Drawn: len(b.Tracks) > 0}
	for _, p := range b.Pieces {
		out.Pieces = append(out.Pieces, p.Name)
	}
	for _, e := range rec.Entries {
		if e.Kind == process.CommandNote {
			out.Notes = append(out.Notes, e)
		}
	}
	slices.Reverse(out.Notes)
	if about != "" {
		out.Ready = d.readyText(b, about, rec.Alarms, web.For(ctx, d.site))
	}
	return out, nil
}

// offers are the newest alarms that have a ready text, each with the actions about it.
func offers(rec *record.Record) (out []web.Offer) {
	for i := len(rec.Alarms) - 1; i >= 0 && len(out) < mostOffers; i-- {
		a := rec.Alarms[i]
		if !worthAnAction(a) {
			continue
		}
		o := web.Offer{About: fmt.Sprint(a.Number), Words: fmt.Sprintf("%s %s, alarm %d, %s: %s", a.Entry, a.Title, a.Number, rec.Site.Short(a.RaisedAt), a.Subject)}
		for _, n := range rec.Actions {
			if n.About == o.About || n.About == a.Entry {
				o.Taken = append(o.Taken, n.Number)
			}
		}
		out = append(out, o)
	}
	return out
}

// NoteWithPhoto implements web.Papers.
func (d paperDesk) NoteWithPhoto(ctx context.Context, c process.Command, jpeg []byte) error {
	c, err := d.commander.signed(ctx, c)
	if err != nil {
		return err
	}
	return d.app.notEntered(d.app.engine.DoWithPhoto(ctx, c, jpeg))
}

// Photo implements web.Papers: only a picture of a note of the batch.
func (d paperDesk) Photo(_ context.Context, id, hash string) ([]byte, error) {
	b, err := d.load(id)
	if err != nil {
		return nil, err
	}
	none := &process.Refusal{What: "batch " + id + " has no such photo", NotFound: true}
	if !slices.ContainsFunc(b.Notes, func(n process.NoteEntry) bool { return n.Photo != nil && n.Photo.SHA256 == hash }) {
		return nil, none
	}
	jpeg, found, err := d.app.db.Photo(hash)
	if err == nil && !found {
		return nil, none
	}
	return jpeg, err
}
