package alerts

import (
	"slices"
	"time"
)

// itsHour reports whether an entry may raise or worsen at the sample of a time. One
// without an hour always may. One with an hour looks once a day, at the first sample
// that is not before that hour on the wall, late after a downtime; what comes in
// between waits for the next day. It begins with the first hour after its first sample.
func (c *Condition) itsHour(e Entry, at time.Time) bool {
	if e.Hour == 0 {
		return true
	}
	hour := e.lastHour(at)
	first := c.Looked.IsZero()
	if !hour.After(c.Looked) {
		return false
	}
	c.Looked = hour
	return !first || hour.Equal(at)
}

// leastApart is how long after a turn nobody is asked for the next one, whatever the hour
// (proposal).
const leastApart = 12 * time.Hour

// TurnsAt returns the catalogue of a house that turns its slabs at a time of day, from
// midnight, in (0, 24 h): then it is asked on a day without a turn, and not a day after
// the last one. Zero changes nothing.
func TurnsAt(catalogue []Entry, hour time.Duration) []Entry {
	catalogue = slices.Clone(catalogue)
	for i, e := range catalogue {
		if e.ID != "K1" || hour == 0 {
			continue
		}
		e.Hour, e.Triggers = hour, slices.Clone(e.Triggers)
		e.Triggers[0].Limit = max(hour, leastApart).Hours() // since the day began
		e.Triggers[1].AtOnce = true
		e.Clear.Limit = e.Triggers[0].Limit - 0.01
		catalogue[i] = e
	}
	return catalogue
}

// lastHour is the newest moment, not after a time, at which the clocks showed the hour
// of the entry. One that is shown twice counts as the first; one that the clocks jump
// over is the moment of the jump.
func (e Entry) lastHour(at time.Time) time.Time {
	zone := e.Zone
	if zone == nil {
		zone = time.UTC
	}
	year, month, day := at.In(zone).Date()
	for ; ; day-- {
		if hour, _ := onTheWall(year, month, day, e.Hour, zone); !hour.After(at) {
			return hour
		}
	}
}
