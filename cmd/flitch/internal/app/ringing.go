package app

import (
	"context"

	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/web"
)

// ringing is what the page says and does about phones.
func (a *App) ringing() *web.Ringing {
	r := &web.Ringing{Phones: phonebook{a}, Link: a.cfg.Page.Link}
	for _, c := range a.cfg.Channels {
		if c.Kind == kindPush {
			r.Channels = append(r.Channels, c.Name)
		} else {
			r.Others = append(r.Others, web.Way{Name: c.Name, Kind: c.Kind})
		}
	}
	if a.senderKey != nil {
		r.SenderKey, _ = push.SenderPublic(a.senderKey) // each lane has looked at it
	}
	if a.root != nil {
		r.Root, r.Fingerprint = a.root.PEM(), a.root.Fingerprint()
	}
	return r
}

// phonebook is the list of phones as the page wants it.
type phonebook struct{ app *App }

// Phones implements web.Phones.
func (b phonebook) Phones(context.Context) ([]web.Phone, error) {
	all, err := b.app.db.Phones()
	out := make([]web.Phone, 0, len(all))
	for _, p := range all {
		out = append(out, web.Phone{ID: p.ID, Channel: p.Channel, Person: p.Person, Name: p.Name, Added: p.Added, Ended: p.Ended, Why: p.Why})
	}
	return out, err
}

// ListPhones implements api.Phones.
func (b phonebook) ListPhones(context.Context) ([]api.Phone, error) {
	all, err := b.app.db.Phones()
	out := make([]api.Phone, 0, len(all))
	for _, p := range all {
		out = append(out, api.Phone{ID: p.ID, Channel: p.Channel, Person: p.Person, Name: p.Name, Added: p.Added, Ended: p.Ended, Why: p.Why})
	}
	return out, err
}

// AddPhone implements api.Phones.
func (b phonebook) AddPhone(ctx context.Context, n api.NewPhone) (int64, error) {
	return b.app.addPhone(ctx, n)
}

// RenewPhone implements api.Phones.
func (b phonebook) RenewPhone(ctx context.Context, n api.Renewal) (int64, error) {
	return b.app.renewPhone(ctx, n)
}

// RemovePhone implements web.Phones and api.Phones.
func (b phonebook) RemovePhone(ctx context.Context, id int64, by string) error {
	return b.app.removePhone(ctx, id, by)
}
