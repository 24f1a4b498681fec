package process

import "time"

// A SensorWord is what the device of a probe said of itself, in a protocol that has
// words for it: that it is gone (a last will, a goodbye, a death certificate), or that
// a person should look at it.
type SensorWord struct {
	Probe string `json:"probe"`
	Gone  bool   `json:"gone,omitempty"` // it sends nothing any more
	Asks  string `json:"asks,omitempty"` // not Gone: what a person should know; empty: nothing any more
	Words string `json:"words,omitempty"`
}

// An Absence is that the device of a probe said that it is gone. It lasts until a fresh
// reading comes: that the device is back tells nothing of what it measures.
type Absence struct {
	At    time.Time `json:"at"`
	Words string    `json:"words"`          // what was heard
	Until time.Time `json:"until,omitzero"` // arrival of the reading that ended it
}

// Lasts reports whether the device is gone.
func (a *Absence) Lasts() bool { return a != nil && a.Until.IsZero() }

// find reports how long the device of a probe has been gone, beside silence, which
// tells whether anybody asks. As that, it is over with two believed readings in a row.
// Of a device that never said so there is nothing to report.
func (a *Absence) find(found []Finding, m Measure, silence Finding, goodRun int) []Finding {
	if a == nil {
		return found
	}
	f := Finding{Measure: m, Subject: silence.Subject, At: silence.At, State: silence.State, Value: -1}
	switch {
	case silence.State == Over:
	case a.Lasts():
		f.State, f.Value = Known, silence.At.Sub(a.At).Minutes()
	case goodRun < 2:
		f.State = Unknown
	default:
		f.State = Known
	}
	return append(found, f)
}

// absent begins an absence, unless readings came since the word was said.
func absent(was *Absence, said SensorWord, at, heard time.Time) *Absence {
	if was.Lasts() || at.Before(heard) {
		return was
	}
	return &Absence{At: at, Words: said.Words}
}

// over returns what is left of an absence after a reading. One that was stored by the
// device and sent later does not end it.
func (a *Absence) over(r Reading, allowed time.Duration) *Absence {
	if a.Lasts() && !r.stale(allowed) && !r.Received.Before(a.At) {
		return &Absence{a.At, a.Words, r.Received}
	}
	return a
}

// say takes what the device of a probe of the place said of itself.
func (p *Place) say(said SensorWord, at time.Time, found []Finding) []Finding {
	t := p.Probe(said.Probe)
	switch {
	case t == nil:
		return found
	case said.Gone:
		if t.Absent = absent(t.Absent, said, at, t.Heard); t.Absent.Lasts() {
			t.GoodRun = 0
		}
		return p.findSilence(found)
	}
	t.Asks = said.Asks
	return append(found, Finding{Measure: MeasureAsks, Subject: "probe " + said.Probe + " of " + p.Subject(), At: at, Value: yes(t.Asks != "")})
}

// said takes what the device of a probe of the batch said of itself.
func (b *Batch) said(w SensorWord, at time.Time) {
	t := b.track(w.Probe)
	if t == nil || !w.Gone {
		return
	}
	if t.Absent = absent(t.Absent, w, at, t.Heard); t.Absent.Lasts() {
		t.GoodRun = 0
	}
}

// Miss tells a batch that begins that a probe of its is gone already.
func (b *Batch) Miss(probe string, a Absence) {
	if t := b.track(probe); t != nil {
		t.Absent = &a
	}
}

// KeepAbsences takes over from the batch as it was before a recount which of its
// probes are gone: their devices said so, and no history of the batch tells it.
func (b *Batch) KeepAbsences(before *Batch) {
	for _, was := range before.Tracks {
		if t := b.track(was.Probe.Probe); t != nil && was.Absent != nil {
			t.Absent, t.GoodRun = was.Absent, was.GoodRun
		}
	}
}
