package nights

import (
	"slices"
	"time"

	"flitch/alerts"
)

// A kind of fault: what breaks, when it can, how it is mended, and what has to ring.
type kind struct {
	name   string
	when   when
	days   []time.Weekday // it can begin on; empty: on all
	after  time.Duration  // in a cook: from its start; in the cure: time of day, zero is from two to twelve
	lasts  time.Duration
	line   bool // it is one of the line to the sensors: no other gap of the wifi that day
	breaks func(*year)
	mends  func(*year)
	rings  []string // any of these, loudly enough
	within time.Duration
}

// when a fault can begin.
type when uint8

const (
	inCure  when = iota // on a day without a cook
	inCook              // some time after the start of a cook
	atChill             // when the cook is done: it is the chill that goes wrong
	atDose              // when the next batch is dosed
)

// kinds of faults. within is the time in which one of the alarms has to come: the
// delay of its line in the catalogue, and the time the world takes to get there. What
// the cure fridge tells may be held up by one gap of the wifi.
func kinds() []kind {
	return slices.Concat(fridges(), doors(), power(), boards(), numbers(), vitals(), paths(), cures(), fires(), cores(), chills())
}

// able reports whether the fault can begin on a day.
func (k kind) able(day time.Weekday) bool { return len(k.days) == 0 || slices.Contains(k.days, day) }

// A Fault is one that happened.
type Fault struct {
	Kind   string        `json:"kind"`
	At     time.Time     `json:"at"`
	Mended time.Time     `json:"mended"`
	Alarm  string        `json:"alarm,omitempty"` // the first that came of those asked for; empty: missed
	After  time.Duration `json:"after_ns"`
	kind   kind
}

// find takes the first alarm of those asked for that was raised in time.
func (f *Fault) find(all []alerts.Occurrence) {
	for _, o := range all {
		if !slices.Contains(f.kind.rings, o.Entry) || o.RaisedAt.Before(f.At) || o.RaisedAt.After(f.At.Add(f.kind.within)) {
			continue
		}
		f.Alarm, f.After = o.Entry, o.RaisedAt.Sub(f.At)
		return
	}
}
