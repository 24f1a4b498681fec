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
	rings  []string // any of these
	early  time.Duration
	within time.Duration
	also   []also // and each of these
}

// also is a further line that has to tell of a fault.
type also struct {
	line   string
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
	return slices.Concat(fridges(), doors(), power(), boards(), numbers(), vitals(), paths(), cures(), counters(), fires(), cores(), chills())
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
	Also   []Further     `json:"also,omitempty"`
	kind   kind
}

// A Further is one more line that had to tell of a fault.
type Further struct {
	Line  string        `json:"line"`
	Came  bool          `json:"came"`
	After time.Duration `json:"after_ns"`
}

// find takes the first alarm of those asked for that was raised in time, and the first
// of each further line.
func (f *Fault) find(all []alerts.Occurrence) {
	f.Alarm, f.After, _ = f.first(all, f.kind.rings, f.kind.within)
	f.Also = nil
	for _, a := range f.kind.also {
		_, after, came := f.first(all, []string{a.line}, a.within)
		f.Also = append(f.Also, Further{a.line, came, after})
	}
}

func (f *Fault) first(all []alerts.Occurrence, lines []string, within time.Duration) (line string, after time.Duration, came bool) {
	for _, o := range all {
		if slices.Contains(lines, o.Entry) && !o.RaisedAt.Before(f.At.Add(-f.kind.early)) && !o.RaisedAt.After(f.At.Add(within)) {
			return o.Entry, o.RaisedAt.Sub(f.At), true
		}
	}
	return "", 0, false
}

// missed is how many alarms asked for never came.
func (f *Fault) missed() (n int) {
	if f.Alarm == "" {
		n++
	}
	for _, a := range f.Also {
		if !a.Came {
			n++
		}
	}
	return n
}
