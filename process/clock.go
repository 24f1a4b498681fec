package process

import "time"

// Verdict is what a rule says of a clock. flitch has no other words for it.
type Verdict string

// The verdicts. A clock still running within its limit has none yet.
const (
	Met         Verdict = "met"
	NotMet      Verdict = "not met"
	NotMeasured Verdict = "not measured"
	Held        Verdict = "held"
	Running     Verdict = "" // no verdict yet
)

// ClockName names one of the clocks of a batch (design section 4).
type ClockName string

// The clocks computed so far.
const (
	ClockCure      ClockName = "cure"
	ClockTurn      ClockName = "turn"
	ClockCold      ClockName = "out-of-cold"
	ClockComeUp    ClockName = "come-up"
	ClockLethality ClockName = "lethality"
	ClockHumidity  ClockName = "humidity"
	ClockFerment   ClockName = "fermentation"
	ClockDrying    ClockName = "drying"
	ClockKeep      ClockName = "keep"
	ClockChillA    ClockName = "chill A"
	ClockChillB    ClockName = "chill B"
	ClockChillC    ClockName = "chill C"
)

// chillClocks are the legs of a chill, in the order of the rule.
var chillClocks = [...]ClockName{ClockChillA, ClockChillB, ClockChillC}

// ChillName is the name of a leg of the chill.
func ChillName(leg int) string { return string(chillClocks[leg]) }

// A Clock is one running sum of a batch, by a named rule.
type Clock struct {
	Name      ClockName `json:"name"`
	Rule      string    `json:"rule"`   // in words
	Source    string    `json:"source"` // where the rule comes from
	Limit     float64   `json:"limit"`
	AtLeast   bool      `json:"at_least"` // true: the sum has to reach the limit; false: it may not pass it
	Sum       float64   `json:"sum"`
	Unit      string    `json:"unit"` // "d", "h", "min"
	Running   bool      `json:"running"`
	From      time.Time `json:"from,omitzero"`
	To        time.Time `json:"to,omitzero"`
	Verdict   Verdict   `json:"verdict"`
	Uncertain []string  `json:"uncertain"` // what made it doubtful, in words
}
