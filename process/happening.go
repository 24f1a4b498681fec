package process

import (
	"time"

	"flitch/process/heat"
	"flitch/process/hold"
)

// A Happening is something that temperatures tell of: a lid, a lost fire, a stall, a
// door. It explains; it raises nothing by itself.
type Happening struct {
	Name     string    `json:"name"` // spike, stuck, probe-out, lid-open, fire-out, stall, door-open, door-ajar, defrost, too-warm, failure
	Probe    string    `json:"probe,omitempty"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to,omitzero"` // zero: not over
	Detected time.Time `json:"detected"`
	Detail   string    `json:"detail,omitempty"`
}

// maxHappenings bounds what is kept of one batch.
const maxHappenings = 300

// Spike is the name of readings that are no measurements.
const Spike = "spike"

// spikesApart is how far apart rejected readings of a probe are told separately.
const spikesApart = 90 * time.Second

// noteSpike notes a reading that is no measurement; those in a row are one event.
func (b *Batch) noteSpike(t *Track, at time.Time, why string) {
	for i := len(b.Happenings) - 1; i >= 0; i-- {
		h := &b.Happenings[i]
		if h.Name != Spike || h.Probe != t.Probe.Probe {
			continue
		}
		if apart := at.Sub(h.To); apart >= 0 && apart <= max(spikesApart, t.Probe.Interval) {
			h.To = at
			return
		}
		break
	}
	b.Happenings = keepHappening(b.Happenings, Happening{Name: Spike, Probe: t.Probe.Probe, From: at, To: at, Detected: at, Detail: why})
}

func keepHappening(list []Happening, h Happening) []Happening {
	if len(list) >= maxHappenings {
		return list
	}
	return append(list, h)
}

// noteCook notes what a watch of a cook detected or cleared. What the chamber does
// is told by the first watch only.
func (b *Batch) noteCook(t *Track, changed []heat.CookEvent) {
	for _, e := range changed {
		probe := t.Probe.Probe
		switch e.Kind {
		case heat.BadSample, heat.Gap: // told by noteSpike, and by the gaps of the track
			continue
		case heat.LidOpen, heat.FireOut:
			chamber := b.TrackOf(Chamber)
			if t != b.firstWatched() || chamber == nil {
				continue
			}
			probe = chamber.Probe.Probe
		}
		b.Happenings = noteChange(b.Happenings, Happening{Name: string(e.Kind), Probe: probe,
			From: atMinute(e.From), Detected: atMinute(e.Detected)}, e.Open, atMinute(e.To))
	}
}

// noteFridge notes what the air of the batch's fridge detected or cleared.
func (b *Batch) noteFridge(t *Track, changed []hold.Event) {
	for _, e := range changed {
		b.Happenings = noteChange(b.Happenings, Happening{Name: string(e.Kind), Probe: t.Probe.Probe,
			From: atMinute(e.From), Detected: atMinute(e.Detected)}, e.Open, atMinute(e.To))
	}
}

// noteChange adds an event, or ends the one that is open.
func noteChange(list []Happening, h Happening, open bool, to time.Time) []Happening {
	if open {
		return keepHappening(list, h)
	}
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].Name == h.Name && list[i].Probe == h.Probe && list[i].From.Equal(h.From) {
			list[i].To = to
			return list
		}
	}
	h.To = to
	return keepHappening(list, h)
}

// minuteOf and atMinute go between times and the minutes since 1970 that the number
// packages count in.
func minuteOf(at time.Time) float64 { return float64(at.Unix()/60) + float64(at.Unix()%60)/60 }

func atMinute(m float64) time.Time { return time.Unix(int64(m*60+0.5), 0).UTC() }
