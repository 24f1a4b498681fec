package process

import (
	"math"
	"time"

	"flitch/ingest/signal"
	"flitch/process/heat"
)

// A CookWatch follows one core, or a chamber without one, a minute at a time, and
// knows which of the core's readings are the meat's.
type CookWatch struct {
	Cook    heat.CookWatch `json:"cook"`
	Core    Bucket         `json:"core"`
	Chamber Bucket         `json:"chamber"`
	Air     Sample         `json:"air,omitzero"` // newest whole minute of the chamber

	// Trusted is what the core came to at the end of the last minute that counted:
	// where its sums go back to when the probe was pulled. Still is the same before
	// the first of the identical readings that may turn out to be a stuck probe.
	Trusted Checkpoint `json:"trusted"`
	Still   Checkpoint `json:"still"`

	Course Course `json:"course"` // of the heat, for the forecast
}

// A Checkpoint is what a core came to at one time.
type Checkpoint struct {
	CoreSums
	Last Sample `json:"last,omitzero"`
}

// keep and restore copy the sums, in the room they already have.
func (c *Checkpoint) keep(t *Track) {
	c.CoreSums.set(&t.CoreSums)
	c.Last = t.Last
}

func (c *Checkpoint) restore(t *Track) {
	t.CoreSums.set(&c.CoreSums)
	t.Last, t.Pending, t.Waits, t.Torn = c.Last, Sample{}, 0, true
}

// watch gives each core its watch when the fire is lit first; without a core the
// chamber is watched alone.
func (b *Batch) watch() {
	watched := false
	b.eachTrack(Core, func(t *Track) {
		watched = true
		if t.Watch == nil {
			t.Watch = new(CookWatch)
			t.Watch.Trusted.keep(t)
			t.Watch.Still.keep(t)
		}
	})
	b.eachTrack(Chamber, func(t *Track) {
		if !watched && t.Watch == nil {
			t.Watch, watched = new(CookWatch), true
		}
	})
}

// firstWatched is the track whose watch tells what the chamber does.
func (b *Batch) firstWatched() *Track {
	for _, t := range b.Tracks {
		if t.Watch != nil {
			return t
		}
	}
	return nil
}

// moved tells the watches that the meat went to another kind of place.
func (b *Batch) moved(at time.Time) {
	for _, t := range b.Tracks {
		if t.Watch != nil {
			b.noteCook(t, t.Watch.Cook.Moved(minuteOf(at)))
			t.Watch.Chamber, t.Watch.Air = Bucket{}, Sample{}
		}
	}
}

// fold puts a believed sample into the minutes of the watches.
func (b *Batch) fold(t *Track, s Sample) {
	if t.Air != nil && t.speaksIn(b.Stage()) {
		b.noteFridge(t, t.Air.put(s))
	}
	switch {
	case t.Probe.Placement == Core && t.Watch != nil:
		b.put(t, &t.Watch.Core, s)
	case b.surrounds(t):
		for _, w := range b.Tracks {
			if w.Watch != nil {
				b.put(w, &w.Watch.Chamber, s)
			}
		}
	}
}

// surrounds reports whether the track tells the air around the meat in this stage.
func (b *Batch) surrounds(t *Track) bool {
	switch stage := b.Stage(); stage.Where {
	case WhereSmoker:
		return t.Probe.Placement == Chamber
	case WhereRoom:
		return t.Probe.Placement == Ambient
	default:
		return t.Probe.Placement == Air && t.speaksIn(stage)
	}
}

func (b *Batch) put(t *Track, u *Bucket, s Sample) {
	if !u.empty() && !u.Minute.Equal(s.At.Truncate(time.Minute)) {
		b.closeMinute(t, u.Minute)
	}
	u.add(s)
}

// closeMinutes gives the watches the minutes that are over.
func (b *Batch) closeMinutes(now time.Time) {
	for _, t := range b.Tracks {
		w := t.Watch
		if w == nil {
			continue
		}
		for w.Core.over(now) || w.Chamber.over(now) {
			minute := w.Core.Minute
			if w.Core.empty() || !w.Chamber.empty() && w.Chamber.Minute.Before(minute) {
				minute = w.Chamber.Minute
			}
			b.closeMinute(t, minute)
		}
	}
}

// airHolds is how long a minute of the chamber stands for the ones after it, when a
// logger reads it less often than the core (proposal).
const airHolds = 5 * time.Minute

// closeMinute gives the watch one minute and draws what follows for the core.
func (b *Batch) closeMinute(t *Track, minute time.Time) {
	w := t.Watch
	m := heat.Minute{Min: minuteOf(minute), Flags: heat.NoCore | heat.NoChamber}
	if w.Core.Minute.Equal(minute) && !w.Core.empty() {
		m.CoreC, m.Flags = w.Core.take(), m.Flags&^heat.NoCore
	}
	if w.Chamber.Minute.Equal(minute) && !w.Chamber.empty() {
		w.Air = Sample{minute, w.Chamber.take()}
	}
	if !w.Air.At.IsZero() && minute.Sub(w.Air.At) <= airHolds {
		m.ChamberC, m.Flags = w.Air.Value, m.Flags&^heat.NoChamber
	}
	stage := b.Stage()
	if !stage.Heat {
		m.Flags |= heat.Unlit
	}
	w.Cook.TargetC, w.Cook.RateMax = stage.CoreC, b.rateLimit(t)
	out, flat := w.Cook.Out.Open, w.Cook.Flat.Open
	b.noteCook(t, w.Cook.Add(m))
	if t.Probe.Placement != Core {
		return
	}
	b.judgeMinute(t, m.Min, out, flat)
	if stage.Heat {
		if !w.Cook.CoreCounts() {
			m.Flags |= heat.BadCore
		}
		w.Course.put(minute, m)
	}
}

// judgeMinute takes back what was not the meat's, or trusts what was. out and flat
// say how the probe was before this minute.
func (b *Batch) judgeMinute(t *Track, minute float64, out, flat bool) {
	w := t.Watch
	switch {
	case w.Cook.Out.Open && !out:
		t.strike(signal.Rate, t.WaitsAt, t.Pending.At, t.Waits)
		w.Trusted.restore(t)
	case w.Cook.Flat.Open && !flat:
		run := t.Sieve.Run
		t.strike(signal.Flat, run.Since, t.Sieve.Newest.At, run.N)
		w.Still.restore(t)
	case !w.Cook.CoreCounts():
	default:
		if !t.Pending.At.IsZero() { // it jumped, and is the meat all the same
			s := t.Pending
			t.Pending, t.Waits = Sample{}, 0
			believedNow(t.Flagged, false)
			b.advance(t, s)
		}
		if w.Cook.Run.Since == minute {
			w.Still = w.Still.as(&w.Trusted)
		}
		w.Trusted.keep(t)
	}
}

func (c Checkpoint) as(other *Checkpoint) Checkpoint {
	c.CoreSums.set(&other.CoreSums)
	c.Last = other.Last
	return c
}

// pulledK is by how much a probe that is pulled jumps at least, K: the same as in
// process/heat, a minute sooner.
const pulledK = 4.0

// withheld reports whether a core sample that stands by itself may not be the meat's:
// the probe is out or stuck, or it jumped and the minute is not over that tells.
func (b *Batch) withheld(t *Track, s judged) bool {
	if t.Watch == nil || t.Probe.Placement != Core {
		return false
	}
	if t.away() {
		fault := signal.Rate
		if t.Watch.Cook.Flat.Open {
			fault = signal.Flat
		}
		t.Bad++
		t.Flagged = flag(t.Flagged, fault, s.At, s.At, 1)
		return true
	}
	last := t.Last
	jumped := !last.At.IsZero() && math.Abs(s.Value-last.Value) > pulledK &&
		signal.IsRate(last.Value, s.Value, s.At.Sub(last.At).Minutes(), b.rateLimit(t))
	if !jumped && t.Pending.At.IsZero() {
		return false
	}
	if t.Pending.At.IsZero() {
		t.WaitsAt, t.Waits = s.At, 0
	}
	t.Pending = s.Sample
	t.Waits++
	return true
}

// strike counts the readings of a probe that turned out to be no core's.
func (t *Track) strike(fault signal.Fault, from, to time.Time, count int64) {
	if count <= 0 {
		return
	}
	t.Bad += count
	t.Flagged = flag(t.Flagged, fault, from, to, count)
}

// Doubted reports whether the newest readings of a probe are not to be believed: that
// of a core is out or stuck, any other has stood still for too long.
func (t *Track) Doubted() bool {
	return t.away() || t.Doubt == signal.Flat
}

// away reports a core whose probe is out or stuck.
func (t *Track) away() bool {
	return t.Watch != nil && t.Probe.Placement == Core && (t.Watch.Cook.Out.Open || t.Watch.Cook.Flat.Open)
}
