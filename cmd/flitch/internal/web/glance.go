package web

import (
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/record"
)

// State is the one word at the top of the page.
type State string

// The states, from best to worst.
const (
	Fine  State = "fine"  // nothing asks for a person
	Look  State = "look"  // an alarm of level tell is open, a needed number is old, or something to do is overdue
	Now   State = "now"   // an alarm of level ring is open
	Blind State = "blind" // a probe that is needed has told nothing believable for too long
)

// A Glance is all the page says about one batch, in the order it says it.
// Temperatures are °C, times UTC; the page shows them as the site wants.
type Glance struct {
	Batch   string        `json:"batch"`
	Product string        `json:"product"` // title of the plan
	Class   process.Class `json:"class"`
	Pieces  []string      `json:"pieces"` // names of all slabs, for the hand reading
	At      time.Time     `json:"at"`     // the daemon's clock when this was put together; ages count from here

	State State     `json:"state"`
	Since time.Time `json:"since,omitzero"` // when the state began; zero: not known
	Why   string    `json:"why,omitempty"`  // one line; empty when fine

	Slowest *Slab    `json:"slowest,omitempty"` // nil: no core is watched in this stage
	Chamber *Chamber `json:"chamber,omitempty"` // nil: no smoker in this stage

	Forecasts []Forecast `json:"forecasts"` // soonest first; empty: nothing can be said

	Stage Stage `json:"stage"`
	Next  *Task `json:"next,omitempty"` // nil: nothing is waited for

	Clocks []process.Clock `json:"clocks"`         // all of the plan, in the plan's order
	Held   []string        `json:"held,omitempty"` // by what; none: it is not

	Questions []Question       `json:"questions,omitempty"` // that only a look at the sensor answers
	LeftOut   []record.LeftOut `json:"left_out,omitempty"`  // readings that did not count, and why

	Slabs  []Slab  `json:"slabs"`            // the others, the worst first
	Fridge *Fridge `json:"fridge,omitempty"` // nil: none belongs to the batch
	Doses  *Doses  `json:"doses,omitempty"`  // nil: not in cure, or the plan asks for none

	Wood *Wood `json:"wood,omitempty"` // nil: not in a smoker

	LastAlarm *Alarm  `json:"last_alarm,omitempty"` // newest, open or not; nil: there was none
	Alarms    []Alarm `json:"alarms"`               // open ones of the batch and its places, loudest first
}

// A Question is whether a sensor was set to another unit.
type Question struct {
	Probe string          `json:"probe"`
	Ask   process.UnitAsk `json:"ask"`
}

// A Number is a measured value, how old it is and where it is going.
type Number struct {
	Known   bool      `json:"known"` // false: no believable reading yet; the rest is then empty
	C       float64   `json:"c"`
	At      time.Time `json:"at,omitzero"`     // when it was measured
	Old     bool      `json:"old"`             // older than the probe is allowed to be silent
	Doubt   string    `json:"doubt,omitempty"` // why it is suspect; empty: it is not
	HasRate bool      `json:"has_rate"`        // false: too few readings to say
	Rate    float64   `json:"k_per_h"`         // K per hour, over the last readings
	Typed   string    `json:"typed,omitempty"` // initials, when the number was entered by a person
}

// A Slab is one core.
type Slab struct {
	Piece     string  `json:"piece"`
	Probe     string  `json:"probe"`
	Core      Number  `json:"core"`
	HasTarget bool    `json:"has_target"`
	TargetC   float64 `json:"target_c,omitempty"` // of the stage
}

// A Chamber is the air of the smoker against what it is set to.
type Chamber struct {
	Place string  `json:"place"`
	Air   Number  `json:"air"`
	SetC  float64 `json:"set_c,omitempty"` // 0: the stage sets none
}

// A Forecast says when something is expected.
type Forecast struct {
	What string        `json:"what"` // "core reaches 61.0 °C", already in the site's unit
	At   time.Time     `json:"at"`
	Give time.Duration `json:"give_ns,omitempty"` // plus or minus; 0: not known
	Low  time.Time     `json:"low,omitzero"`      // an interval that is not even, in place of Give
	High time.Time     `json:"high,omitzero"`
	Open bool          `json:"open,omitempty"` // it may not come today; then High is zero, or At too
	Warn bool          `json:"warn"`           // it comes after its limit
}

// A Stage is where the batch is and what ends that.
type Stage struct {
	Name    process.StageName `json:"name"`
	Entered time.Time         `json:"entered"`
	Ends    string            `json:"ends"`           // in words: "core of the slowest slab at 61.0 °C"
	Prompt  string            `json:"prompt"`         // what the plan says to do now; may be empty
	Button  bool              `json:"button"`         // a person may end it now
	Heat    bool              `json:"heat"`           // the fire is lit
	Next    process.StageName `json:"next,omitempty"` // empty: the batch is closed instead

	// Instead are the stages that may be entered by leaving optional ones out.
	Instead []process.StageName `json:"instead,omitempty"`
}

// A Task is the next thing a person does.
type Task struct {
	What string              `json:"what"`
	By   time.Time           `json:"by,omitzero"` // zero: whenever suits
	Kind process.CommandKind `json:"kind"`        // the command that says it is done; empty: none
}

// A Fridge is the cold place of the batch.
type Fridge struct {
	Estimate    string    `json:"estimate,omitempty"` // of the product by the air, where no slow sensor is
	Place       string    `json:"place"`
	Product     Number    `json:"product"`                // slow sensor
	Air         *Number   `json:"air,omitempty"`          // nil: no such probe
	AboveC      float64   `json:"above_c"`                // the plan's line
	AboveMin    float64   `json:"above_min"`              // minutes above it in the cold stages of this batch
	Today       *Today    `json:"today,omitempty"`        // nil: not known
	LastTurn    time.Time `json:"last_turn,omitzero"`     // zero: never
	LastTurnBy  string    `json:"last_turn_by,omitempty"` // initials
	TurnsWanted bool      `json:"turns_wanted"`           // the batch is in cure
}

// Today is how long the fridge was above the plan's line since midnight, by the clock on
// the wall. It is no verdict: the clock of the batch is.
type Today struct {
	AboveMin float64 `json:"above_min"` // a gap with a warm end counts in full
	BlindMin float64 `json:"blind_min"` // in gaps too long for a line, both ends of which were cold
}

// Wood is what is known of the fuel: only what a person said.
type Wood struct {
	Last time.Time     `json:"last,omitzero"` // zero: nobody said
	By   string        `json:"by,omitempty"`
	Ends time.Duration `json:"ends_ns,omitempty"` // until the forecast end of the heat; 0: not known
}

// An Alarm is one occurrence with what to do about it.
type Alarm struct {
	alerts.Occurrence
	LevelName string `json:"level"`  // ring, tell or note; hides the number of the embedded field
	Action    string `json:"action"` // what to do first

	Shelf *alerts.Shelf    `json:"shelf,omitempty"` // nil: people hear of it
	Told  []record.Telling `json:"told,omitempty"`  // whom it went to, and how far that came
}

// ToldWords says whom an alarm went to and who was reached, in one line; clock writes the
// times. It is empty when it went to nobody.
func (a Alarm) ToldWords(clock func(time.Time) string) string {
	lines := make([]string, len(a.Told))
	for i, t := range a.Told {
		lines[i] = t.Words(clock)
	}
	return strings.Join(lines, "; ")
}

// A Summary is one batch in the list of all.
type Summary struct {
	ID      string            `json:"id"`
	Product string            `json:"product"`
	Recipe  string            `json:"plan_name,omitempty"` // name of the plan: two plans may have one title
	Started time.Time         `json:"started"`
	Closed  time.Time         `json:"closed,omitzero"`
	Stage   process.StageName `json:"stage"`
	Held    []string          `json:"held,omitempty"`  // by what; none: it is not
	Waits   bool              `json:"waits,omitempty"` // closed, and not reviewed since
}

// Nearest returns the clock that is nearest its limit: of those that run, the
// one that may not pass its limit and has used the largest share of it; if none
// such runs, the one that has to reach its limit and is nearest to it.
func (g Glance) Nearest() (process.Clock, bool) {
	var best process.Clock
	found := false
	for _, c := range g.Clocks {
		if !c.Running || c.Limit <= 0 {
			continue
		}
		if !found || nearer(c, best) {
			best, found = c, true
		}
	}
	return best, found
}

func nearer(a, b process.Clock) bool {
	if a.AtLeast != b.AtLeast {
		return b.AtLeast
	}
	return a.Sum/a.Limit > b.Sum/b.Limit
}
