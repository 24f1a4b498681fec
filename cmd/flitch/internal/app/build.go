package app

import (
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
)

// mappings says which number on which topic is a reading of which probe.
func mappings(probes []config.Probe) []ingest.Mapping {
	out := make([]ingest.Mapping, 0, len(probes))
	for _, p := range probes {
		if p.ReadOut {
			continue
		}
		out = append(out, ingest.Mapping{Topic: p.Topic, Probe: p.Placed(), Spec: spec(p.Payload), Sensor: p.Sensor, Missing: p.Missing, Vitals: vitalsAt(p),
			Protocol: p.Protocol, Metric: p.Metric})
	}
	return out
}

// spec is the same payload in the words of package decode.
func spec(p config.Payload) decode.Spec {
	return decode.Spec{
		Value: p.Value, List: p.List, Each: p.Each, ID: p.ID, IDAt: p.IDAt,
		Time: p.Time, TimeFormat: p.TimeFormat, Zone: p.Zone, Backfill: p.Backfill,
		Unit: p.Unit, UnitAt: p.UnitAt, Scale: p.Scale, Offset: p.Offset, Decimal: p.Decimal, Words: p.Words,
	}
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
