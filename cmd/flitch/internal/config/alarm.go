package config

import (
	"time"

	"flitch/alerts"
)

// longestDelay bounds the delays of an alarm.
const longestDelay = 7 * 24 * time.Hour

// readAlarms reads the [[place.alarm]] of a place: what it wants otherwise than the
// catalogue. Each is checked against the one before it, so that two changes of one
// alarm fit together.
func readAlarms(tables []*table, fuel Fuel) []alerts.Change {
	catalogue := alerts.Catalogue(alerts.Wood)
	if fuel == Electric {
		catalogue = alerts.Catalogue(alerts.Electric)
	}
	var changes []alerts.Change
	for _, t := range tables {
		c := alerts.Change{ID: t.need("id", "C1"), Trigger: int(t.number("trigger", 1, 1, 9)), Level: t.text("level")}
		c.Limit, c.Clears = t.maybeNumber("limit"), t.maybeNumber("clears")
		c.After, c.Summed = t.maybeDuration("after"), t.maybeDuration("summed")
		c.Within, c.ClearsAfter = t.maybeDuration("within"), t.maybeDuration("clears_after")
		t.finish()
		if c.ID == "" {
			continue
		}
		changed, err := alerts.Changed(catalogue, c)
		if err != nil {
			t.problem("id", c.ID, err.Error(), `id = "C1", limit = 5.0, after = "45m", clears = 4.0; flitch alarms --catalogue lists them`)
			continue
		}
		for i := range catalogue {
			if catalogue[i].ID == c.ID {
				catalogue[i] = changed
			}
		}
		changes = append(changes, c)
	}
	return changes
}

// The widest limit that anything of the catalogue has: °C, hours or minutes.
const widestLimit = 10_000

func (t *table) maybeNumber(key string) *float64 {
	if !t.has(key) {
		t.get(key) // so that it is known
		return nil
	}
	before := len(t.doc.problems)
	v := t.number(key, 5, -widestLimit, widestLimit)
	if len(t.doc.problems) > before {
		return nil
	}
	return &v
}

func (t *table) maybeDuration(key string) *time.Duration {
	if !t.has(key) {
		t.get(key) // so that it is known
		return nil
	}
	d := t.duration(key, 30*time.Minute, 0, longestDelay)
	return &d
}
