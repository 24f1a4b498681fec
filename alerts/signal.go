package alerts

import "time"

// State says whether a signal carries a value.
type State uint8

// The states of a signal.
const (
	Known   State = iota // Value holds
	Unknown              // raises nothing, clears nothing
	Over                 // the question no longer applies; ends the alarm
	Falling              // Value holds and can only fall, as what brought it about is over: an upper limit waits twice as long
)

// A Signal is one sample of the measure an entry looks at.
type Signal struct {
	Subject string // what it is about; with the entry's ID it names one alarm
	Measure string
	At      time.Time
	State   State
	Value   float64
}

// EventKind names a change of an alarm.
type EventKind string

// The changes of an alarm that a person may hear of.
const (
	Raised       EventKind = "raised"
	Worsened     EventKind = "worsened"       // a louder trigger is met, same number
	Repeated     EventKind = "repeated"       // still active, nobody has acknowledged
	ReAlarmed    EventKind = "re-alarmed"     // acknowledged, still standing
	Acknowledged EventKind = "acknowledged"   // somebody is on it
	Withdrawn    EventKind = "unacknowledged" // who was on it has taken that back
	Cleared      EventKind = "cleared"
)

// An Event is one change of one alarm.
type Event struct {
	Kind    EventKind
	Entry   string
	Subject string
	Number  int64 // of the occurrence; a repeat keeps it
	Level   Level
	At      time.Time
	Since   time.Time     // when the condition began
	Value   float64       // now
	Worst   float64       // farthest beyond the limit so far
	Limit   float64       // of the trigger that raised it
	By      string        // who acknowledged, or took that back
	Reason  string        // why: how long it was beyond the limit, stage over
	Summed  time.Duration // beyond the limit in Window, when that is what raised it; else zero
	Window  time.Duration

	Blind      bool       // samples without a value came since: Value is older
	Action     string     // what to do first, of the trigger that counts now
	Says       string     // the value in words, of the same; empty: the entry's
	Hidden     string     // why nobody is told: the shelf; empty when people are
	Again      time.Time  // when the same question comes next if nobody answers; zero: it does not
	Occurrence Occurrence // as it stands after this event
}
