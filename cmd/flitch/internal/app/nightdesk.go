package app

import (
	"context"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/web"
	"flitch/process/engine"
)

// Night implements web.Reader.
func (r *reader) Night(context.Context) (web.Night, error) {
	rows, err := r.app.db.Alarms()
	if err != nil {
		return web.Night{}, err
	}
	duty, shelved, err := engine.Night(rows)
	if err != nil {
		return web.Night{}, err
	}
	n := web.Night{By: duty.By, Until: duty.Until}
	if !r.app.clock.Now().Before(duty.Until) {
		n.By = ""
	}
	for _, p := range r.app.cfg.Persons {
		n.Persons = append(n.Persons, p.Initials)
	}
	for key, s := range shelved {
		entry, subject, _ := strings.Cut(key, "|")
		n.Shelves = append(n.Shelves, web.Shelved{Entry: entry, Subject: subject, By: s.By, Reason: s.Reason, Until: s.Until, Out: s.Out})
	}
	slices.SortFunc(n.Shelves, func(a, b web.Shelved) int { return a.Until.Compare(b.Until) })
	return n, nil
}
