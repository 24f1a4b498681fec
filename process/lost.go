package process

import (
	"math"
	"time"
)

// A ClockWord is what flitch says of the clock of its machine.
type ClockWord struct {
	Kind  ClockKind `json:"kind"`
	From  time.Time `json:"from"`  // what the house had counted to
	To    time.Time `json:"to"`    // what the machine's clock said
	Since time.Time `json:"since"` // the time between them may have passed at any moment after this
}

// ClockKind is what happened to the clock.
type ClockKind string

// The kinds of words.
const (
	ClockUnset    ClockKind = "not set"  // flitch started, and the clock said what cannot be
	ClockFollowed ClockKind = "followed" // it stepped ahead, and the house with it
	ClockRefused  ClockKind = "refused"  // it stepped, and the house counts on by itself
	ClockAgreed   ClockKind = "agreed"   // both say the same again
)

// jump is by how much the house went on at once. A silence, an open door and what else is
// told by how long it lasts is as long as the seconds that were counted.
func (w ClockWord) jump() time.Duration {
	if w.Kind != ClockFollowed {
		return 0
	}
	return w.To.Sub(w.From)
}

// clockSaid does the same for the probes of a place.
func (p *Place) clockSaid(w ClockWord) {
	for i := range p.Probes {
		t := &p.Probes[i]
		t.Heard = t.Heard.Add(w.jump())
		if !t.Since.IsZero() {
			t.Since = t.Since.Add(w.jump())
		}
	}
}

// A Lost is time that passed, and of which nobody knows when: flitch was off, started
// without a clock, and got the time only later. What was measured between Since and Until
// happened By later than it says.
type Lost struct {
	Since time.Time     `json:"since"`
	Until time.Time     `json:"until,omitzero"` // zero: the clock is not set yet, and By is not known
	By    time.Duration `json:"by_ns,omitempty"`
}

// clockSaid takes a word of the machine's clock. Across a step of which nobody knows
// whether it was time or a mistake no line is drawn.
func (b *Batch) clockSaid(w ClockWord) {
	if w.Kind != ClockUnset && w.Kind != ClockFollowed {
		return
	}
	for _, t := range b.Tracks {
		t.Torn, t.Jumped = true, true
		t.Heard = t.Heard.Add(w.jump())
	}
	if w.Kind == ClockFollowed {
		b.Jumped = w.To
	}
	b.NeedsRecount = b.NeedsRecount || b.countedAfter(w.From)
	if w.Kind == ClockUnset {
		b.Lost = append(b.Lost, Lost{Since: w.Since})
		return
	}
	if !w.Since.Before(w.From) {
		return // it is a gap, where it was
	}
	for i := range b.Lost { // the clock is set: all starts before it are told from now on
		if l := &b.Lost[i]; l.Until.IsZero() && !l.Since.Before(w.Since) {
			l.Until, l.By = w.From, w.To.Sub(w.From)
			return
		}
	}
	b.Lost = append(b.Lost, Lost{w.Since, w.From, w.To.Sub(w.From)})
}

// lost is the time, h, that passed between two moments and is not between them: a start
// without a clock is, and the moment it was set is not. Of a clock that is not set it has
// no end.
func (b *Batch) lost(from, to time.Time) float64 {
	hours := 0.0
	for _, l := range b.Lost {
		switch {
		case from.IsZero() || to.IsZero() || from.After(l.Since) || to.Before(l.Since):
		case l.Until.IsZero():
			return math.Inf(1)
		case !to.After(l.Until):
			hours += l.By.Hours()
		}
	}
	return hours
}

// lostCold is the same for a sum over all of the cold stages, which goes on after a clock
// was set: the time is a gap there, and one that a line bridges has to be counted.
func (b *Batch) lostCold(from, to time.Time) float64 {
	hours := b.lost(from, to)
	for _, l := range b.Lost {
		if !l.Until.IsZero() && to.After(l.Until) && !from.After(l.Since) && l.By <= interpolable {
			hours += l.By.Hours()
		}
	}
	return hours
}

// doubtLost says on a clock what was lost in it.
func (c *Clock) doubtLost(hours float64) {
	switch {
	case math.IsInf(hours, 1):
		c.doubt("flitch was off and started without a clock: how long is not known")
	case hours > 0:
		c.doubt("flitch was off for %s before its clock was set, and that is counted", hoursText(hours))
	}
}
