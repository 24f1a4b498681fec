package process

import (
	"time"

	"flitch/ingest/signal"
	"flitch/process/growth"
)

// What reads the same for too long is no measurement, from where it began on. A core is
// followed by its watch; here are the chamber, and the probes of a cold place.
const (
	flatChamberN   = 15               // readings, and
	flatChamber    = 15 * time.Minute // (proposal, the project's table of sensor faults)
	flatLively     = 0.5              // part of its readings before that changed: a controller that holds to the degree stands still honestly (proposal)
	flatFridgeHour = 6.0              // h; a coarse probe has longer. The alarm table's B3
	livelyFridge   = 0.2              // the same: what changed each fifth time does not stand still by chance (proposal)
)

// A Still is what the readings of a probe came to at the first of identical ones.
type Still struct {
	Cure    CureSum            `json:"cure,omitzero"`
	Cold    ColdSum            `json:"cold,omitzero"`
	Hold    HoldSum            `json:"hold,omitzero"`
	Ferment growth.DegreeHours `json:"ferment,omitzero"`
	Hottest float64            `json:"hottest,omitempty"`
	Last    Sample             `json:"last,omitzero"`
}

func (s *Still) keep(t *Track) {
	switch t.Probe.Placement {
	case Product, Air, Chamber:
		*s = Still{t.Cure, t.Cold, t.Hold, t.Ferment, t.Hottest, t.Last}
	}
}

// stuckCold reports readings of a cold place that have stood too long for a probe that
// moved before: one that never did may be coarse, and the place good.
func (r *Standing) stuckCold(at time.Time) bool {
	return r.hours(at) >= flatFridgeHour && r.Was >= livelyFridge
}

// standsStill reports a reading that has stood too long.
func (b *Batch) standsStill(t *Track, s judged) bool {
	stage := b.Stage()
	switch t.Probe.Placement {
	case Chamber:
		return stage.Where == WhereSmoker && s.run.N >= flatChamberN && s.At.Sub(s.run.Since) >= flatChamber && s.run.Was > flatLively
	case Product, Air:
		return t.speaksIn(stage) && s.run.stuckCold(s.At)
	}
	return false
}

// standStill takes back what the identical readings before this one came to: the first
// of them may have been true. Once it is taken back, there is nothing more to take.
func (b *Batch) standStill(t *Track) {
	run := t.Sieve.Run
	if t.Doubt == signal.Flat || !t.Still.Last.At.Equal(run.Since) {
		t.Torn = true
		return
	}
	if seen := run.N - 2; seen > 0 { // without the first and this one
		t.Flagged = flag(t.Flagged, signal.Flat, run.Since.Add(time.Millisecond), t.Last.At, seen)
		t.Bad += seen
		t.Samples -= seen
	}
	dosed, sour := t.Cure.From, t.Ferment.Ended
	t.Cure, t.Cold, t.Hold, t.Ferment, t.Hottest, t.Last = t.Still.Cure, t.Still.Cold, t.Still.Hold, t.Still.Ferment, t.Still.Hottest, t.Still.Last
	if !t.Cure.From.Equal(dosed) { // a dose went on since, and what was counted before it does not count
		t.Cure = CureSum{From: dosed}
	}
	t.Ferment.Ended = t.Ferment.Ended || sour
	t.Torn = true
}

// stuckFor is how long a chamber has read the same, minutes; 0 when it may be believed.
func (t *Track) stuckFor(now time.Time) float64 {
	if t.Doubt != signal.Flat {
		return 0
	}
	return now.Sub(t.Sieve.Run.Since).Minutes()
}
