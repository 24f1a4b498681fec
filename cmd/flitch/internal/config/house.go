package config

import (
	"flitch/alerts"
	"flitch/process"
)

// Catalogue is the alarm catalogue for this house. A house with one smoker that burns
// wood or charcoal is given the longer delay for a falling chamber.
func (c *Config) Catalogue() []alerts.Entry {
	fuel := alerts.Electric
	for _, p := range c.Places {
		if p.Kind == process.WhereSmoker && p.Fuel != Electric {
			fuel = alerts.Wood
		}
	}
	return alerts.TurnsAt(alerts.Catalogue(fuel), c.TurnsAt)
}

// Changes are what the places want of the alarms otherwise, by subject of the place.
func (c *Config) Changes() map[string][]alerts.Change {
	out := map[string][]alerts.Change{}
	for _, p := range c.Places {
		if len(p.Alarms) > 0 {
			out[string(p.Kind)+" "+p.Name] = p.Alarms
		}
	}
	return out
}

// Policy says who is told what, and in which words.
func (c *Config) Policy() alerts.Policy {
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
