package process

import (
	"fmt"
	"time"
)

// What a probe did not see before its first sample, or all of it when it never spoke,
// is in no segment. Here it is counted, so that it helps no verdict.

// spokenFor reports whether a core that was never heard has another beside it that
// was: in the same piece, or in any when no piece was named.
func (b *Batch) spokenFor(t *Track) bool {
	if t.Samples > 0 {
		return false
	}
	for _, other := range b.Tracks {
		if other.Probe.Placement == Core && other.Samples > 0 && (t.Probe.Piece == "" || other.Probe.Piece == t.Probe.Piece) {
			return true
		}
	}
	return false
}

// unheard says of which pieces nothing was heard, or nothing that a core can be.
func (b *Batch) unheard() []string {
	var why []string
	b.eachTrack(Core, func(t *Track) {
		switch {
		case t.notCore():
			why = append(why, fmt.Sprintf("probe %s of piece %s read more than a core can, for %s: outside, or of another unit", t.Probe.Probe, t.Probe.Piece, minutesText(t.NotCore.Minutes())))
		case t.Samples == 0 && !b.spokenFor(t):
			why = append(why, fmt.Sprintf("core of piece %s was never heard", t.Probe.Piece))
		}
	})
	return why
}

// spent is the time spent in the stages that are meant, up to a moment; zero is now.
func (b *Batch) spent(until time.Time, meant func(StagePlan) bool) time.Duration {
	if until.IsZero() {
		until = b.Now
	}
	sum := time.Duration(0)
	for _, e := range b.Stages {
		end := until
		if !e.Left.IsZero() && e.Left.Before(end) {
			end = e.Left
		}
		if end.After(e.Entered) && meant(b.Plan.stage(e.Name)) {
			sum += end.Sub(e.Entered)
		}
	}
	return sum
}

// head is the time, in minutes, that a track was not yet heard in the stages that are
// meant, when that is too long to bridge.
func (b *Batch) head(t *Track, meant func(StagePlan) bool) float64 {
	if t.First.At.IsZero() && t.Samples > 0 { // stored before First was kept
		return 0
	}
	if d := b.spent(t.First.At, meant); d > interpolable {
		return d.Minutes()
	}
	return 0
}
