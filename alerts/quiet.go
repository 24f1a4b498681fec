package alerts

import "time"

// Quiet is the part of the day in which a person is told nothing that can wait: a
// tell waits for its end, a ring never does. From and To are wall-clock times,
// counted from midnight, in [0, 24 h); To before From reaches over midnight. The
// zero value, like any with From equal to To, is never quiet.
type Quiet struct {
	From time.Duration
	To   time.Duration
}

// End returns when the quiet hours that at lies in are over, and false when at lies
// in none. The first moment is quiet, the end is not. In the night the clocks go
// back a wall-clock time comes twice: quiet hours begin at the first and end at the
// second of them, so that nobody is woken early. A time that the clocks jump over
// is the moment of the jump.
func (q Quiet) End(at time.Time, zone *time.Location) (time.Time, bool) {
	if q.From == q.To {
		return time.Time{}, false
	}
	if zone == nil {
		zone = time.UTC
	}
	year, month, day := at.In(zone).Date()
	for _, begun := range []int{day - 1, day} { // last night's, or today's
		ends := begun
		if q.To < q.From {
			ends++
		}
		from, _ := onTheWall(year, month, begun, q.From, zone)
		_, to := onTheWall(year, month, ends, q.To, zone)
		if !at.Before(from) && at.Before(to) {
			return to, true
		}
	}
	return time.Time{}, false
}

// nearChange is farther than any zone is from UTC, so that two moments this far
// before and after a wall-clock time have the offsets on both sides of a change.
const nearChange = 26 * time.Hour

// onTheWall returns the first and the last moment at which the clocks of zone show a
// time of a day. They differ only for an hour that comes twice.
func onTheWall(year int, month time.Month, day int, clock time.Duration, zone *time.Location) (first, last time.Time) {
	shown := time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Add(clock)
	before, after := offset(shown.Add(-nearChange), zone), offset(shown.Add(nearChange), zone)
	first, last = shown.Add(-before), shown.Add(-after)
	early, late := offset(first, zone) == before, offset(last, zone) == after
	switch {
	case early && late:
		return first, last
	case early:
		return first, first
	case late:
		return last, last
	}
	jump := changeBetween(last, first, zone) // the clocks went forward: last is before first
	return jump, jump
}

// offset is how far zone is ahead of UTC.
func offset(at time.Time, zone *time.Location) time.Duration {
	_, seconds := at.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}

// changeBetween finds the second in which the offset changes, after from and not
// after to.
func changeBetween(from, to time.Time, zone *time.Location) time.Time {
	old := offset(from, zone)
	for to.Sub(from) > time.Second {
		middle := from.Add(to.Sub(from) / 2).Truncate(time.Second)
		if offset(middle, zone) == old {
			from = middle
		} else {
			to = middle
		}
	}
	return to
}
