package main

import "time"

// earlyBy is how far in the future a moment may lie: clocks differ, and people
// round up. Proposal.
const earlyBy = 2 * time.Minute

// parseMoment reads when something happened: RFC 3339, or HH:MM of today on the
// wall clock of zone. Nothing typed is the zero time: now, by the daemon's clock.
// A future moment is refused, because at ten past midnight "23:50" means
// yesterday.
func parseMoment(text string, now time.Time, zone *time.Location) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		if at, err = parseWallClock(text, now.In(zone)); err != nil {
			return time.Time{}, err
		}
	}
	if at.IsZero() { // it would be taken as none, which is now
		return time.Time{}, misuse("--at 21:40 (today), or --at "+now.In(zone).Format(time.RFC3339), "--at %s: the year 1 is not when this happened", text)
	}
	if at.After(now.Add(earlyBy)) {
		return time.Time{}, misuse("--at "+at.In(zone).AddDate(0, 0, -1).Format(time.RFC3339)+" if you mean the day before",
			"--at %s: that is still to come", text)
	}
	return at, nil
}

func parseWallClock(text string, today time.Time) (time.Time, error) {
	clock, err := time.Parse("15:04", text)
	if err != nil {
		return time.Time{}, misuse("--at 21:40 (today), or --at "+today.Format(time.RFC3339), "--at %s: is not a time", text)
	}
	at := time.Date(today.Year(), today.Month(), today.Day(), clock.Hour(), clock.Minute(), 0, 0, today.Location())
	if at.Hour() != clock.Hour() || at.Minute() != clock.Minute() {
		return time.Time{}, misuse("--at "+at.Format(time.RFC3339), "--at %s: the clocks went forward, there was no %s today", text, text)
	}
	// The repeated hour of the autumn night: the same wall clock, two moments.
	for _, first := range []time.Time{at.Add(-time.Hour), at} {
		second := first.Add(time.Hour)
		if first.Format("15:04") == second.Format("15:04") {
			return time.Time{}, misuse("--at "+first.Format(time.RFC3339)+" or --at "+second.Format(time.RFC3339),
				"--at %s: the clocks went back, %s was twice today", text, text)
		}
	}
	return at, nil
}
