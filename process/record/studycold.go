package record

import (
	"slices"
	"time"
)

// warm are the temperatures above which a cooler log counts minutes: 40 and 45 °F, °C.
// (40 °F: the cold limit of the household advice; 45 °F: where the chill of
// FSIS-GD-2021-14 ends)
var warm = [...]float64{(40 - 32) / 1.8, (45 - 32) / 1.8}

// A coldEar keeps what a probe of a cold place told, by the day of the site.
type coldEar struct {
	site Site
	end  time.Time // of the newest day
	days []coldDay
}

// A coldDay is one day of it.
type coldDay struct {
	day time.Time // its midnight, in the zone of the site
	spread
	above  [len(warm)]time.Duration // by a line between readings
	silent time.Duration            // in gaps: not counted as above, nor as below
}

func newColdEar(site Site) *coldEar { return &coldEar{site: site} }

// midnight is the beginning of the day of a time, and of the next.
func (s Site) midnight(t time.Time) (this, next time.Time) {
	y, m, d := s.Local(t).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, s.zone()), time.Date(y, m, d+1, 0, 0, 0, 0, s.zone())
}

func (c *coldEar) hear(e *ear, row Row) {
	if !row.Measured.Before(c.end) {
		this, next := c.site.midnight(row.Measured)
		c.days, c.end = append(c.days, coldDay{day: this}), next
	}
	day := &c.days[len(c.days)-1]
	day.add(row.Value)
	if !e.heard {
		return
	}
	passed := row.Measured.Sub(e.last.Measured)
	if passed > GapAfter(e.data.Interval) {
		day.silent += passed
		return
	}
	for i, limit := range warm {
		day.above[i] += time.Duration(float64(passed) * above(e.last.Value, row.Value, limit))
	}
}

// above is the part of a line from one value to another that lies above a limit, 0 to 1.
func above(from, to, limit float64) float64 {
	low, high := min(from, to), max(from, to)
	switch {
	case low > limit:
		return 1
	case high <= limit:
		return 0
	}
	return (high - limit) / (high - low)
}

// on returns what was told on a day.
func (c *coldEar) on(day time.Time) (coldDay, bool) {
	i := slices.IndexFunc(c.days, func(d coldDay) bool { return d.day.Equal(day) })
	if i < 0 {
		return coldDay{}, false
	}
	return c.days[i], true
}
