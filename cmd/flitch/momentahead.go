package main

import "time"

// ahead reads the end of a duty or a shelf in the zone of the site.
func (f orderFlags) ahead(t terminal, text string) (time.Time, error) {
	daemon, err := f.daemon(t)
	if err != nil {
		return time.Time{}, err
	}
	return parseAhead(text, t.now(), daemon.zone)
}

// parseAhead reads a time to come: RFC 3339, or HH:MM the next time the wall clock of
// zone shows it.
func parseAhead(text string, now time.Time, zone *time.Location) (time.Time, error) {
	if at, err := time.Parse(time.RFC3339, text); err == nil {
		if !at.After(now) {
			return time.Time{}, misuse("--until 07:00", "--until %s: that is past", text)
		}
		return at, nil
	}
	clock, err := time.Parse("15:04", text)
	if err != nil {
		return time.Time{}, misuse("--until 07:00, or --until "+now.In(zone).Add(time.Hour).Format(time.RFC3339), "--until %s: is not a time", text)
	}
	// Minute by minute: an hour that comes twice is taken the first time, one that
	// the clocks jump over comes a day later.
	at := now.Truncate(time.Minute)
	for range 49 * 60 {
		at = at.Add(time.Minute)
		if local := at.In(zone); local.Hour() == clock.Hour() && local.Minute() == clock.Minute() {
			return local, nil
		}
	}
	return time.Time{}, misuse("--until "+now.In(zone).Add(time.Hour).Format(time.RFC3339), "--until %s: does not come", text)
}
