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

func catalogue(c *config.Config) []alerts.Entry { return c.Catalogue() }

func changes(c *config.Config) map[string][]alerts.Change { return c.Changes() }

func policy(c *config.Config) alerts.Policy { return c.Policy() }
