package decode

import (
	"fmt"
	"time"
)

// wall parses what a clock without a zone shows: 2031-05-02T21:14:00, a blank for
// the T, decimals of a second or none. The result is that time as if it were UTC.
func wall(text string) (time.Time, bool) {
	for _, layout := range [...]string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.Parse(layout, text); err == nil { // decimals of a second are taken unasked
			return t, true
		}
	}
	return time.Time{}, false
}

// local reads what a clock in zone showed. In the night clocks are put back one hour
// comes twice: at is the first time and again how much later the second is, and whoever
// knows when the reading arrived decides. In the night they are put forward one hour does not
// come at all, and a clock that showed it was wrong: refused.
func local(text string, zone *time.Location) (at time.Time, again time.Duration, err error) {
	shown, ok := wall(text)
	if !ok {
		if _, err := time.Parse(time.RFC3339Nano, text); err == nil {
			return at, 0, fmt.Errorf("device time %s has a zone, and is declared as local", quoted(text))
		}
		return at, 0, fmt.Errorf("device time %s cannot be read", quoted(text))
	}
	candidates := instants(shown, zone)
	if len(candidates) == 0 {
		return at, 0, fmt.Errorf("device time %s does not exist in %s: the clocks were put forward over it", quoted(text), zone)
	}
	if at, err = bounded(float64(candidates[0].UnixMilli()), text); err == nil && len(candidates) > 1 {
		again = candidates[1].Sub(candidates[0])
	}
	return at, again, err
}

// instants returns the instants, earlier first, at which a clock in zone showed what
// shown does as UTC: one, two, or none. No zone is more than a day from UTC, so that
// the offsets a day before and after are all there can be around one change.
func instants(shown time.Time, zone *time.Location) []time.Time {
	const day = 24 * time.Hour
	var found []time.Time
	for _, near := range [...]time.Time{shown.Add(-day), shown.Add(day)} {
		_, offset := near.In(zone).Zone()
		t := shown.Add(-time.Duration(offset) * time.Second)
		if _, here := t.In(zone).Zone(); here != offset || len(found) > 0 && found[0].Equal(t) {
			continue
		}
		found = append(found, t)
	}
	if len(found) == 2 && found[1].Before(found[0]) {
		found[0], found[1] = found[1], found[0]
	}
	return found
}
