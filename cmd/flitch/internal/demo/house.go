package demo

import (
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/sim"
	"flitch/process"
)

// The story is written for this plan and begins at this time.
const (
	storyPlan  = "belly-dry-cured-fully-cooked"
	storySteps = 4119 // about; only the pace depends on it
)

var storyBegins = time.Date(2031, time.July, 14, 9, 25, 0, 0, time.UTC)

// house is the invented shop as a configuration: what a flitch.toml would hold.
func house(story *sim.Story, database, listen, phone string) *config.Config {
	c := &config.Config{
		Site:   config.Site{Name: sim.StoryShop, Zone: time.UTC, Units: "C", Database: database},
		Page:   config.Page{Listen: listen},
		Broker: config.Broker{Mode: config.Embedded, Listen: "127.0.0.1:0", Anonymous: true},
		Channels: []config.Channel{{Name: "pretend-phone", Kind: "http", Level: "tell", Deadline: 10 * time.Second,
			Text: map[string]string{"url": phone}, Secrets: map[string]config.Secret{}}},
	}
	known := map[string]bool{}
	for _, p := range story.Probes() {
		c.Probes = append(c.Probes, probe(p))
		if name := p.Placed.Place; !known[name] {
			known[name] = true
			c.Places = append(c.Places, place(name))
		}
	}
	return c
}

func place(name string) config.Place {
	p := config.Place{Name: name, Title: name, Kind: process.WhereFridge}
	switch name {
	case "old-kettle":
		p.Kind, p.Fuel = process.WhereSmoker, config.Charcoal
	case "shed":
		p.Kind = process.WhereRoom
	}
	return p
}

func probe(p *sim.Probe) config.Probe {
	out := config.Probe{Name: p.Placed.Probe, Place: p.Placed.Place, Measures: p.Placed.Placement,
		Payload:  config.Payload{Topic: p.Topic, Value: p.Shape.ValuePointer(), Time: p.Shape.TimePointer(), Unit: string(p.Unit)},
		Interval: p.Placed.Interval, Uncertainty: p.Placed.Uncertainty}
	if out.Time != "" {
		out.TimeFormat = "rfc3339"
	}
	return out
}
