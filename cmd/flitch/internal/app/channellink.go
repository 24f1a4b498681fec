package app

import (
	"context"
	"fmt"
	"strings"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/api"
)

// An answerable channel puts the link to answer with under each message, as its
// last line, at the moment of sending: the database and the record never hold it.
// So is who was not reached: by then it is known.
type answerable struct {
	outbox.Channel
	links     *api.Links
	unreached func(alerts.Message) []string
}

// Send implements outbox.Channel.
func (c answerable) Send(ctx context.Context, m alerts.Message) (string, error) {
	for _, line := range c.unreached(m) {
		m.Body = strings.TrimRight(m.Body, "\n") + "\n" + line
	}
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
