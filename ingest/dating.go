package ingest

import (
	"time"

	"flitch/ingest/decode"
)

// A device clock is believed inside [newest believed time of the probe, arrival +
// ahead]. Of a probe that was never believed before, a time older than firstBack
// is not: a board without a clock wakes in 1970 or on the day its firmware was
// built. A reading that the device stored and sends later is believed as far back as
// backfillBack, in any order. ahead is common practice for stores of time series, no
// source; the others are proposals: a cure with its drying takes about a month.
const (
	ahead        = 2 * time.Minute
	firstBack    = 24 * time.Hour
	backfillBack = 31 * 24 * time.Hour
)

// lateAfter is the least age at which a reading is called late; a slow probe has
// three of its intervals. Proposal.
const lateAfter = 5 * time.Minute

// setBack is how far an arrival may lie before the one before it without meaning
// that our clock was set back: sources hand in side by side. Own bound.
const setBack = 2 * time.Second

// A track remembers the times of one probe, in milliseconds since 1970.
type track struct {
	probe   string
	known   bool  // a device time was believed before
	newest  int64 // the newest of them
	last    int64 // the one believed last
	arrival int64 // when the last reading without a believed time came
	given   int64 // the time it was given
	top     int64 // nothing is stored above it
	lag     lag
}

// taken reports whether a reading of the probe is stored, or waits in the same
// batch, at that millisecond.
type taken func(probe string, ms int64) (bool, error)

// A date is when a reading was measured, as far as we believe it. Without measured it
// cannot be used, and doubt says why.
type date struct {
	measured  time.Time
	doubt     string // why it is suspect; "" if it is not
	believed  bool   // measured is the device time
	duplicate bool   // the reading is known already
}

// date judges the device time of s, which arrived at received. The error is the
// one of isTaken; t has then not changed.
func (t *track) date(s decode.Sample, received time.Time, interval time.Duration, isTaken taken) (date, error) {
	arrival, patience := received.UnixMilli(), max(3*interval, lateAfter).Milliseconds()
	if s.Device.IsZero() {
		if s.Backfill {
			return date{doubt: s.TimeProblem}, nil
		}
		return t.byArrival(arrival, s.TimeProblem, isTaken)
	}
	device, doubt := t.settle(s, arrival, patience)
	if doubt == "" {
		doubt = t.disbelieve(device, arrival, s.Backfill)
	}
	if doubt == "" && !s.Backfill && t.lag.isBehind(arrival, device, patience) {
		doubt = "device clock not believed: it is behind by " + time.Duration((arrival-device)*1e6).Round(time.Second).String()
	}
	if doubt != "" && s.Backfill {
		return date{doubt: doubt}, nil
	}
	if doubt != "" {
		// Only here a message that comes again can be mistaken for a new one: inside the
		// window the unique key absorbs it.
		known, err := t.isKnown(s, isTaken)
		if err != nil || known {
			return date{duplicate: known}, err
		}
		return t.byArrival(arrival, doubt, isTaken)
	}
	t.known, t.newest, t.last, t.top = true, max(t.newest, device), device, max(t.top, device)
	d := date{measured: time.UnixMilli(device).UTC(), believed: true}
	if arrival-device > patience {
		d.doubt = "late"
	}
	return d, nil
}

// isKnown reports whether the reading is stored at its device time. Of a time that
// comes twice both have to be: one of them may be another reading.
func (t *track) isKnown(s decode.Sample, isTaken taken) (bool, error) {
	known, err := isTaken(t.probe, s.Device.UnixMilli())
	if err != nil || !known || s.Again == 0 {
		return known, err
	}
	return isTaken(t.probe, s.Device.Add(s.Again).UnixMilli())
}

// settle returns the device time in milliseconds. A local time that comes twice is the
// one of the two that arrival leaves: the first if the second is still to come, the
// second if the first lies before what was accepted last or the reading came at once.
// One that came late is the one that stands beside the reading before it. If none of
// that tells, doubt says so.
func (t *track) settle(s decode.Sample, arrival, patience int64) (device int64, doubt string) {
	first := s.Device.UnixMilli()
	if s.Again == 0 {
		return first, ""
	}
	second := first + s.Again.Milliseconds()
	beside := func(ms int64) bool { return t.known && max(ms-t.last, t.last-ms) <= patience }
	switch {
	case second > arrival+ahead.Milliseconds():
		return first, ""
	case arrival-second <= lateAfter.Milliseconds(), !s.Backfill && t.known && first < t.newest:
		return second, ""
	case beside(first) && !beside(second):
		return first, ""
	case beside(second) && !beside(first):
		return second, ""
	}
	return first, "device time comes twice that night, and which is meant cannot be told: " + written(first) + " or " + written(second)
}

// disbelieve returns why a device time is outside the window, or "".
func (t *track) disbelieve(device, arrival int64, backfill bool) string {
	from := t.newest
	switch {
	case backfill:
		from = arrival - backfillBack.Milliseconds()
	case !t.known:
		from = arrival - firstBack.Milliseconds()
	}
	switch {
	case device > arrival+ahead.Milliseconds():
		return "device clock not believed: " + written(device) + " is ahead of arrival"
	case device >= from:
		return ""
	case !backfill && t.known && device >= from-firstBack.Milliseconds():
		return "device time before the last accepted one"
	}
	return "device clock not believed: " + written(device)
}

// byArrival dates a reading by when it came. Two readings never share a
// millisecond, for the second would be taken for a duplicate and lost: what comes
// faster (a broker that hands over a night's queue) is spread forward.
func (t *track) byArrival(arrival int64, doubt string, isTaken taken) (date, error) {
	ms := arrival
	if arrival > t.arrival-setBack.Milliseconds() {
		ms = max(ms, t.given+1)
	}
	for ms <= t.top { // the clock was set back, or device times run in front of it
		used, err := isTaken(t.probe, ms)
		if err != nil {
			return date{}, err
		}
		if !used {
			break
		}
		ms++
	}
	t.arrival, t.given, t.top = arrival, ms, max(t.top, ms)
	return date{measured: time.UnixMilli(ms).UTC(), doubt: doubt}, nil
}

// written shows a device time in a reason.
func written(ms int64) string {
	return time.UnixMilli(ms).UTC().Format(time.RFC3339)
}
