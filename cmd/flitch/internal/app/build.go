package app

import (
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/process"
)

// mappings says which number on which topic is a reading of which probe.
func mappings(probes []config.Probe) []ingest.Mapping {
	out := make([]ingest.Mapping, 0, len(probes))
	for _, p := range probes {
		out = append(out, ingest.Mapping{Topic: p.Topic, Probe: p.Placed(), Value: p.Value, Time: p.Time,
			TimeFormat: p.TimeFormat, Unit: p.Unit, Missing: p.Missing, Vitals: vitalsAt(p)})
	}
	return out
}

// places builds every configured place with its probes, nothing heard yet.
func places(c *config.Config, now time.Time) []*process.Place {
	out := make([]*process.Place, 0, len(c.Places))
	for _, place := range c.Places {
		var probes []process.PlacedProbe
		for _, p := range c.Probes {
			if p.Place == place.Name {
				probes = append(probes, p.Placed())
			}
		}
		out = append(out, process.NewPlace(place.Name, place.Kind, probes, now))
	}
	return out
}

// catalogue is the alarm catalogue for this house. A house with one smoker that
// burns wood or charcoal is given the longer delay for a falling chamber.
func catalogue(c *config.Config) []alerts.Entry {
	fuel := alerts.Electric
	for _, p := range c.Places {
		if p.Kind == process.WhereSmoker && p.Fuel != config.Electric {
			fuel = alerts.Wood
		}
	}
	return alerts.Catalogue(fuel)
}

// changes are what the places want of the alarms otherwise, by subject of the place.
func changes(c *config.Config) map[string][]alerts.Change {
	out := map[string][]alerts.Change{}
	for _, p := range c.Places {
		if len(p.Alarms) > 0 {
			out[string(p.Kind)+" "+p.Name] = p.Alarms
		}
	}
	return out
}

// policy says who is told what, and in which words.
func policy(c *config.Config) alerts.Policy {
	p := alerts.Policy{Location: c.Site.Zone, Fahrenheit: c.Site.Units == "F", Link: c.Page.Link}
	for _, ch := range c.Channels {
		level := alerts.Tell
		if ch.Level == "ring" {
			level = alerts.Ring
		}
		p.Channels = append(p.Channels, alerts.ChannelPolicy{Name: ch.Name, Minimum: level, Backup: ch.Backup})
	}
	for _, q := range c.Persons {
		p.Persons = append(p.Persons, alerts.Person{Name: q.Name, Initials: q.Initials, Channels: q.Channels, Quiet: alerts.Quiet(q.Quiet)})
	}
	return p
}
