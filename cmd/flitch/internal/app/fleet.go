package app

import (
	"context"
	"io"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/web"
	"flitch/process/engine"
	"flitch/store"
	"flitch/store/fleet"
)

// fleetSilence is how long the fleet may be out of reach before somebody hears of it: a site
// works for days without internet, and it says nothing of the meat. Proposal.
const fleetSilence = 24 * time.Hour

// buildFleet builds what copies the log up; nothing without an address.
func (a *App) buildFleet() error {
	if !a.cfg.Fleet.URL.IsSet() {
		return nil
	}
	at, err := fleet.ParseAddress(a.cfg.Fleet.URL.Reveal())
	if err != nil {
		return err
	}
	desk := &reader{app: a, site: a.site()}
	var classes []string
	for _, c := range fleet.Classes {
		classes = append(classes, string(c))
	}
	a.metrics.Fleet(classes)
	a.fleet = fleet.New(a.db, fleet.Options{Address: at, Site: a.cfg.Fleet.Site, Every: a.cfg.Fleet.Every, Clock: a.clock,
		Glance: desk.fleetGlance, Told: a.fleetTold,
		Proof: func(ctx context.Context, batch string, w io.Writer) error { return desk.Proof(ctx, batch, w) }})
	return nil
}

// fleetTold hears how each turn of the sink ended. What waiting does not mend is told at once,
// what may come back by itself only after a day.
func (a *App) fleetTold(s fleet.Status) {
	a.metrics.FleetTold(s.Sent, s.Behind, s.Since, s.At, string(s.Class))
	switch {
	case s.Err == nil:
		a.recovered(engine.FaultFleet)
	case s.Class.NeedsPerson() || s.Since >= fleetSilence:
		a.faults.Set(engine.FaultFleet, s.Err.Error())
	}
	if s.Err != nil {
		a.log.Debug("the fleet was not told", "class", string(s.Class), "err", s.Err)
	}
}

// fleetGlance is what the page says of this moment, in short.
func (r *reader) fleetGlance(ctx context.Context) (fleet.Glance, error) {
	out := fleet.Glance{At: r.now(), Version: r.app.version, State: string(web.Fine)}
	glances, err := r.Glances(ctx)
	if err != nil {
		return out, err
	}
	for _, g := range glances {
		out.Batches = append(out.Batches, fleet.Batch{ID: g.Batch, Product: g.Product, Stage: string(g.Stage.Name), State: string(g.State), Since: g.Since, Why: g.Why})
	}
	standing, err := r.app.db.Occurrences(store.OccurrenceFilter{Active: true})
	if err != nil {
		return out, err
	}
	alarms, err := r.app.listed(standing)
	if err != nil {
		return out, err
	}
	for _, a := range alarms {
		out.Alarms = append(out.Alarms, fleet.Alarm{Number: a.Number, Entry: a.Entry, Level: a.Level.String(), Title: a.Title, Subject: a.Subject,
			Since: a.Since, Answered: answeredBy(a)})
		if s := stateOf(a); worse(s, web.State(out.State)) {
			out.State, out.Since, out.Why = string(s), a.Since, a.Title+": "+a.Subject
		}
	}
	for _, b := range out.Batches { // a batch may ask for a look where no alarm stands
		if worse(web.State(b.State), web.State(out.State)) {
			out.State, out.Since, out.Why = b.State, b.Since, b.ID+": "+b.Why
		}
	}
	return out, nil
}

func answeredBy(a web.Alarm) string {
	if a.Level < alerts.Ring || a.AcknowledgedAt.IsZero() {
		return ""
	}
	return a.AcknowledgedBy
}
