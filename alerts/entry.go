package alerts

import "time"

// Level is how loudly a person is told.
type Level uint8

// The three levels of the trade: a line in the journal, an ordinary message, and
// one that wakes people.
const (
	Note Level = iota + 1
	Tell
	Ring
)

// String returns the word shown to people.
func (l Level) String() string {
	switch l {
	case Ring:
		return "ring"
	case Tell:
		return "tell"
	case Note:
		return "note"
	}
	return "none"
}

// A Trigger is one way an alarm starts: the value is beyond the limit (the limit
// itself counts as beyond) for For without a break, or for Sum in pieces within
// Window. Sum zero means that pieces are not added up.
type Trigger struct {
	Below  bool          // true: beyond means at or under the limit
	Limit  float64       // in the unit of the entry's measure
	For    time.Duration // continuous on-delay
	Sum    time.Duration // summed on-delay
	Window time.Duration // over which Sum is added up
	Level  Level
	Action string // replaces the entry's action once this trigger is met; empty keeps it
	Says   string // replaces the entry's words in the same way
	AtOnce bool   // does not wait for the hour of the entry
}

// Clear says what ends an alarm: the value at or inside Limit for For.
type Clear struct {
	Limit float64
	For   time.Duration
	Never bool // ends only by a person or when the question no longer applies
	ByAck bool // with Never: acknowledging is the person's end of it
}

// An Entry is one line of the catalogue: all that is known about one alarm
// before it happens. An entry without an action text does not exist.
type Entry struct {
	ID          string // as on the wall chart: C1, K1, H3
	Title       string // a few words, for the locked phone
	Measure     string // the process.Measure it looks at
	Unit        string // of the measure: "°C", "K", "h", "min", ""
	Triggers    []Trigger
	Clear       Clear
	Says        string         // the value in words; words.go has the blanks that are filled in
	Worst       string         // the same of the worst value alone, where a number by itself would mislead; empty: "{value}"
	Elapsed     bool           // the measure is the time since it began: the alarm stands since then, and not since its limit
	Never       float64        // from this value on the measure means "never"; zero: it has no such value
	SaysNever   string         // the value in words then
	Prompt      bool           // a step to do, not a fault
	TellAtNight bool           // nothing can be done before the morning: who is in their quiet hours is not woken, and the others hear at once
	Action      string         // what to do first
	Hour        time.Duration  // time of day, from midnight, at which it raises and worsens, in (0, 24 h); zero: at once
	Zone        *time.Location // of Hour; nil is UTC. The house fills it in
	Repeat      time.Duration  // while active and not acknowledged; zero never
	ThenDaily   bool           // after one repeat it asks once a day only
	ReAlarm     time.Duration  // acknowledged but still standing: asks again after; zero never
	HidesBehind []string       // entries that explain this one, by ID
	FalseAlarms string         // what has looked like this and was not
	Source      string         // of the limit and delays, or "proposal"
}
