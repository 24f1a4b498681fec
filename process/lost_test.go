package process

import (
	"testing"
	"time"
)

// A core cools through a leg while the machine has no clock: how long that took nobody
// knows, and once the clock is set the time that was missing counts.
func TestWhatWasLostCountsAgainstALeg(t *testing.T) {
	began := time.Date(2031, 5, 5, 12, 0, 0, 0, time.UTC)
	at := func(minutes int) time.Time { return began.Add(time.Duration(minutes) * time.Minute) }
	told := func(words ...ClockWord) *Batch {
		b := &Batch{Closed: at(600), Now: at(600), Plan: Plan{Chill: ChillRule{Option: "B3"}}}
		core := newTrack(PlacedProbe{Probe: "core", Placement: Core, Piece: "A", Interval: time.Minute}, b.Plan)
		core.Samples, core.Last = 1, Sample{At: at(600), Value: 3}
		for i := range core.Legs {
			core.Legs[i].Start, core.Legs[i].End = at(60*i), at(60*i+50)
		}
		b.Tracks = []*Track{core}
		for _, w := range words {
			b.clockSaid(w)
		}
		return b
	}
	unset := ClockWord{Kind: ClockUnset, From: at(10), Since: at(10)}
	set := func(minute int, by time.Duration) ClockWord {
		return ClockWord{Kind: ClockFollowed, From: at(minute), To: at(minute).Add(by), Since: at(10)}
	}
	for name, c := range map[string]struct {
		words []ClockWord
		want  Verdict
	}{
		"nothing":                             {nil, Met},
		"not set":                             {[]ClockWord{unset}, NotMeasured},
		"set after the leg, a long time":      {[]ClockWord{unset, set(55, 9*time.Hour)}, NotMeasured},
		"set after the leg, a minute":         {[]ClockWord{unset, set(55, time.Minute)}, Met},
		"set in the leg":                      {[]ClockWord{unset, set(30, 9*time.Hour)}, Met}, // it is in it as a gap
		"set after a start that seemed right": {[]ClockWord{set(55, 9*time.Hour)}, NotMeasured},
		"refused":                             {[]ClockWord{{Kind: ClockRefused, From: at(20), To: at(900), Since: at(10)}}, Met},
		"a step in the middle of a run":       {[]ClockWord{{Kind: ClockFollowed, From: at(55), To: at(900), Since: at(55)}}, Met},
	} {
		got, ok := told(c.words...).chillClock(0, at(600))
		if !ok || got.Verdict != c.want {
			t.Errorf("%s: %q, want %q (%v)", name, got.Verdict, c.want, got.Uncertain)
		}
	}
}
