package app

import (
	"context"
	"slices"

	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/process/engine"
	"flitch/store"
)

// renewPhone takes the new subscription of a browser that has changed its own, so that
// the phone rings on under its number. The error is a *process.Refusal when no phone on
// the list had the old one.
func (a *App) renewPhone(ctx context.Context, n api.Renewal) (int64, error) {
	a.phones.Lock()
	defer a.phones.Unlock()
	all, err := a.db.Phones()
	if err != nil {
		return 0, err
	}
	i := slices.IndexFunc(all, func(p store.Phone) bool { return n.Old != "" && p.Endpoint == n.Old })
	if i < 0 {
		return 0, &process.Refusal{What: "no phone on the list had that subscription", Hint: "press Ring this phone on the page of flitch", NotFound: true}
	}
	p := all[i]
	c, ok := pushChannel(a.cfg, p.Channel)
	if !ok {
		return 0, &process.Refusal{What: "phones can no longer be added to " + p.Channel, Hint: "load the page again"}
	}
	browser, err := push.NewBrowser(n.Subscription.Endpoint, n.Subscription.Keys.Public, n.Subscription.Keys.Secret, c.Text["server"])
	if err != nil {
		return 0, &process.Refusal{What: err.Error(), Hint: "press Ring this phone on the page of flitch"}
	}
	for _, q := range all {
		if q.ID != p.ID && q.Channel == p.Channel && q.Endpoint == browser.Endpoint {
			return 0, &process.Refusal{What: "that subscription is on the list already", Hint: "load the page again"}
		}
	}
	p.Endpoint, p.Public, p.Secret = browser.Endpoint, browser.Public, browser.Secret
	err = a.db.Update(func(tx *store.Tx) error {
		if err := tx.RenewPhone(p.ID, p.Endpoint, p.Public, p.Secret); err != nil {
			return err
		}
		return tx.AppendJournal(process.JournalLine{At: a.clock.Now(), Kind: "phone renewed", By: "flitch", Text: phoneText(p) + " has a new subscription for " + p.Channel})
	})
	if err != nil {
		return 0, err
	}
	lane := laneOf(p.Channel, p.ID)
	a.log.Info("phone renewed", "phone", p.ID, "name", p.Name, "channel", p.Channel)
	a.outbox.Shut(lane)
	a.faults.Clear(engine.FaultPhone + lane)
	if err := a.openPhone(c, p); err != nil {
		return 0, err
	}
	a.outbox.Wake()
	return p.ID, a.engine.Report(ctx, engine.FaultPhone+lane, false)
}
