package process

import "time"

// InputKind tells the entries of the input log apart.
type InputKind uint8

// The kinds of input. Readings come from probes, commands from people, ticks
// from the engine when time alone may have changed something.
const (
	InputReading InputKind = iota
	InputCommand
	InputTick
)

// An Input is one entry of the stored input log. Seq gives the order; At is the
// daemon's clock when it was taken in and never runs backwards along Seq.
type Input struct {
	Seq     int64
	Kind    InputKind
	At      time.Time
	Reading Reading // when Kind is InputReading
	Command Command // when Kind is InputCommand
}

// CommandKind names what a person said.
type CommandKind string

// The commands of a batch.
const (
	CommandNew         CommandKind = "new"         // start a batch
	CommandStage       CommandKind = "stage"       // enter a stage of the plan
	CommandTurned      CommandKind = "turned"      // slabs turned
	CommandReading     CommandKind = "reading"     // hand reading, typed
	CommandWeighed     CommandKind = "weighed"     // a piece was weighed, g
	CommandCounted     CommandKind = "counted"     // the pieces were counted
	CommandDosed       CommandKind = "dosed"       // curing salt was weighed for pieces
	CommandTasted      CommandKind = "tasted"      // a taste card
	CommandCost        CommandKind = "cost"        // what the batch cost
	CommandNote        CommandKind = "note"        // free text
	CommandClose       CommandKind = "close"       // batch finished
	CommandAcknowledge CommandKind = "acknowledge" // "I am on it", for one alarm
	CommandStruck      CommandKind = "struck"      // an earlier command, an answer or a shelf is taken back: Strikes

	CommandAction      CommandKind = "corrective-action" // what was done about a deviation, in the four parts of the rule
	CommandDisposition CommandKind = "disposition"       // what becomes of pieces, Text says why
	CommandReviewed    CommandKind = "reviewed"          // the record was read by another person

	CommandDuty   CommandKind = "duty"           // "I have the night", until a time
	CommandShelve CommandKind = "shelve"         // one alarm is hidden until a time, Text says why
	CommandOut    CommandKind = "out-of-service" // the same for days, while something is mended
	CommandJudge  CommandKind = "judge"          // a ring was useful, false or late, says Text

	CommandChecked CommandKind = "checked" // a probe was held into ice, or beside a thermometer
	CommandUnit    CommandKind = "unit"    // which unit a sensor sends, when that was asked

	// CommandFault is said by flitch of itself: a part of it failed (Value 1) or is
	// back (Value 0). Text names the part.
	CommandFault CommandKind = "fault"

	// CommandVital is said by flitch of a sensor, once a day: its battery or its signal.
	CommandVital CommandKind = "vital"

	// CommandSensor is said by flitch of the device of a probe: that it is gone by its
	// own word, or what it wants a person to know.
	CommandSensor CommandKind = "sensor"
)

// A Command is what a person said, as it was said.
type Command struct {
	ID    string      `json:"id"`   // unique; the same command sent twice is taken once
	Kind  CommandKind `json:"kind"` //
	Batch string      `json:"batch,omitempty"`
	By    string      `json:"by"`    // initials
	At    time.Time   `json:"at"`    // when it happened, by the person's word
	Typed time.Time   `json:"typed"` // when it was typed, by the daemon's clock

	Stage     StageName     `json:"stage,omitempty"`  // entered; counted: into or out of which
	Pieces    []string      `json:"pieces,omitempty"` // turned: which; empty is all
	Placement Placement     `json:"placement,omitempty"`
	Value     float64       `json:"value,omitempty"` // hand reading, °C or pH; weighed, g; counted, pieces
	Text      string        `json:"text,omitempty"`
	Strikes   string        `json:"strikes,omitempty"` // ID of the command that this one takes back or, of the same kind, corrects
	Why       string        `json:"why,omitempty"`     // it does; only within StrikeFreely it may be empty
	Rung      Rung          `json:"rung,omitempty"`    // weighed: of the yield ladder
	Way       Way           `json:"way,omitempty"`     // counted: in or out
	Weights   []PieceWeight `json:"weights,omitempty"` // weighed: several pieces at once, in place of Value
	Alarm     int64         `json:"alarm,omitempty"`   // number of the alarm acknowledged, shelved or judged
	Entry     string        `json:"entry,omitempty"`   // shelved before it came: the line of the catalogue, C1
	Of        string        `json:"of,omitempty"`      // and the place, the batch, or the whole subject it is about
	Until     time.Time     `json:"until,omitzero"`    // end of a duty or a shelf
	Dosing    *Dosing       `json:"dosing,omitempty"`  // what was weighed; Text says why it is another than before
	Vital     *Vital        `json:"vital,omitempty"`
	Sensor    *SensorWord   `json:"sensor,omitempty"`
	Clock     *ClockWord    `json:"clock,omitempty"` // of a fault: the clock of the machine
	Check     *CheckSaid    `json:"check,omitempty"`
	Unit      *UnitSaid     `json:"unit,omitempty"`
	Taste     *Taste        `json:"taste,omitempty"`
	Cost      *Cost         `json:"cost,omitempty"`
	New       *NewBatch     `json:"new,omitempty"`

	Action      *ActionSaid `json:"action,omitempty"`
	Disposition Disposition `json:"disposition,omitempty"` // of Pieces; empty: of all
	Covers      []Covered   `json:"covers,omitempty"`      // of a disposition; filled in before it is logged
	Photo       *Photo      `json:"photo,omitempty"`       // of a note
}

// NewBatch is what has to be known to start a batch. It is complete: a batch
// can be recomputed from it and the inputs that follow, whatever the
// configuration says later.
type NewBatch struct {
	Plan   Plan          `json:"plan"`
	Pieces []Piece       `json:"pieces"`
	Probes []PlacedProbe `json:"probes"`
	Units  []UnitKnown   `json:"units,omitempty"` // of the probes; filled in before it is logged
	Asked  *Dosing       `json:"asked,omitempty"` // packet, rule and what is to be weighed; its portions hold grams of a recipe
}

// A Piece is one slab of a batch.
type Piece struct {
	Name        string  `json:"name"`         // letter on the bag label
	GreenG      float64 `json:"green_g"`      // green weight, g, > 0
	ThicknessMM float64 `json:"thickness_mm"` // at the thickest place, mm, > 0
	SkinOn      bool    `json:"skin_on,omitempty"`
}

// A PlacedProbe is a probe and what it measures for a batch or a place.
type PlacedProbe struct {
	Probe       string        `json:"probe"`
	Place       string        `json:"place"`
	Placement   Placement     `json:"placement"`
	Piece       string        `json:"piece,omitempty"`          // core probes: which slab
	Interval    time.Duration `json:"interval_ns"`              // expected time between readings
	CheckEvery  time.Duration `json:"check_every_ns,omitempty"` // between two checks in ice; 0: none is asked for
	Uncertainty float64       `json:"uncertainty_c"`            // K, as configured: taken off before lethality is credited, until a check knows better
	Checks      []ProbeCheck  `json:"checks,omitempty"`         // of a batch: the check in force at its start, and those after it
	ReadOut     bool          `json:"read_out,omitempty"`       // a person brings what it wrote: its silence says nothing
	For         []StageName   `json:"for,omitempty"`            // stages it speaks for; empty: all that its placement can
}

// EventTime returns when the input happened, as far as it is known: the time a
// reading holds for, the time a person named, else the time it was taken in.
func (in Input) EventTime() time.Time {
	switch in.Kind {
	case InputReading:
		return in.Reading.Measured
	case InputCommand:
		return in.Command.At
	}
	return in.At
}
