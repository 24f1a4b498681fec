package alerts

import "time"

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
