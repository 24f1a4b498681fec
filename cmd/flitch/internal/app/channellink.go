package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/api"
)

// An answerable channel puts the link to answer with under each message, as its
// last line, at the moment of sending: the database and the record never hold it.
type answerable struct {
	outbox.Channel
	links *api.Links
}

// Send implements outbox.Channel.
func (c answerable) Send(ctx context.Context, m alerts.Message) (string, error) {
	if link := c.links.Link(m); link != "" {
		m.Body = strings.TrimRight(m.Body, "\n") + "\nI am on it: " + link
	}
	return c.Channel.Send(ctx, m)
}

func (a *App) buildLinks() error {
	key, err := linkKey(a.cfg.Site.Database)
	if err != nil {
		return fmt.Errorf("key of the links in messages: %w", err)
	}
	a.links = &api.Links{Key: key, Base: strings.TrimRight(a.cfg.Page.Link, "/"), Zone: a.cfg.Site.Zone, Who: a.owner}
	return nil
}

// owner is the person whose channel it is, by their initials. Of a channel that
// several share, a tap does not tell whose thumb it was. A phone that was added on the
// page belongs to whoever signed there.
func (a *App) owner(lane string) (initials string) {
	channel, phone := channelOf(lane)
	if phone > 0 {
		if p, err := a.phone(phone); err == nil && a.stranger(p.Person) == nil {
			return p.Person
		}
	}
	for _, p := range a.cfg.Persons {
		if !slices.Contains(p.Channels, channel) {
			continue
		}
		if initials != "" {
			return ""
		}
		initials = p.Initials
	}
	return initials
}
