package record

import (
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A Record is everything that is known about one batch. Temperatures are °C and
// times UTC inside; Site says how people want them shown.
type Record struct {
	Site   Site      `json:"site"`
	MadeAt time.Time `json:"made_at"` // when the record was made, given by the caller

	Head   Head            `json:"head"`
	Limits []Limit         `json:"limits"`
	Sets   []Setting       `json:"sets,omitempty"` // drawn in the chart
	Clocks []process.Clock `json:"clocks"`
	// Estimates is what published models say beside the clocks; they judge nothing.
	Estimates  []process.Estimate  `json:"estimates,omitempty"`
	Happenings []process.Happening `json:"happenings,omitempty"` // what the temperatures told of
	Doses      []process.DoseEntry `json:"doses,omitempty"`      // of curing salt, those corrected since too

	Held         []string              `json:"held,omitempty"` // by what, as of now; none: it is not
	Actions      []Action              `json:"corrective_actions,omitempty"`
	Dispositions []Disposition         `json:"dispositions,omitempty"`
	Reviews      []process.ReviewEntry `json:"reviews,omitempty"`

	Stages     []Stage     `json:"stages"`
	Deviations []Deviation `json:"deviations"`
	Alarms     []Alarm     `json:"alarms"`
	Entries    []Entry     `json:"entries"`
	Data       []ProbeData `json:"data"`                // counts and gaps are filled in while it is written
	Rejected   int         `json:"rejected"`            // messages in the batch's time that could not be used at all
	DiskGaps   []string    `json:"disk_gaps,omitempty"` // times in which nothing could be stored, in the words of the journal
	Chain      Chain       `json:"journal"`
	Cautions   []string    `json:"cautions"` // printed beside the ones that are always printed

	// Plan is the plan the batch was begun with, whatever has become of it since.
	Plan process.Plan `json:"-"`

	// Cost is for the maker alone.
	Cost process.CostSum `json:"-"`

	// Readings gives every reading of the batch, ordered by time measured within
	// each probe. It is called more than once and has to give the same rows.
	Readings Rows `json:"-"`
}

// A Head says what the batch is.
type Head struct {
	Product string          `json:"product"`
	Class   process.Class   `json:"class"`
	Batch   string          `json:"batch"`
	By      string          `json:"by"` // initials of who started it
	Started time.Time       `json:"started"`
	Closed  time.Time       `json:"closed,omitzero"` // zero while the batch is open
	End     process.Ending  `json:"end,omitzero"`    // who closed it
	Plan    PlanVersion     `json:"plan"`
	Pieces  []process.Piece `json:"pieces"`
}

// A PlanVersion names exactly one text of one plan.
type PlanVersion struct {
	Name    string `json:"name"`
	Version int    `json:"version"`
	Hash    string `json:"hash"` // SHA-256 of the plan's text, hex
}

// A Limit is one limit the batch was run under, and who says so.
type Limit struct {
	Name   string `json:"name"`
	Text   string `json:"text"`   // in words, with its number
	Source string `json:"source"` // where the number comes from

	// LineC is drawn as a line in the chart, °C, from From to To, when Drawn.
	Drawn bool      `json:"drawn"`
	LineC float64   `json:"line_c,omitempty"`
	From  time.Time `json:"from,omitzero"` // zero: from the start of the batch
	To    time.Time `json:"to,omitzero"`   // zero: to its end
}

// A Setting is what a place was set to while a stage lasted.
type Setting struct {
	Name string    `json:"name"`
	C    float64   `json:"c"` // °C
	From time.Time `json:"from"`
	To   time.Time `json:"to,omitzero"` // zero: it is so now
}

// A Stage is one stage as it was lived through.
type Stage struct {
	ID      string            `json:"id,omitempty"` // of its command
	Name    process.StageName `json:"name"`
	Entered time.Time         `json:"entered"`       // by the person's word
	Typed   time.Time         `json:"typed"`         // by the daemon's clock
	Left    time.Time         `json:"left,omitzero"` // zero: not left yet
	By      string            `json:"by"`
	Why     string            `json:"why,omitempty"` // it was entered all the same
}

// A Deviation is a limit that was not kept: an excursion, or a clock not met.
type Deviation struct {
	Number  int       `json:"number"`
	What    string    `json:"what"`         // which limit
	From    time.Time `json:"from"`         //
	To      time.Time `json:"to,omitzero"`  // zero: not over
	Worst   string    `json:"worst"`        // the number, with its unit
	Limit   string    `json:"limit"`        // the limit it is held against
	Outcome string    `json:"outcome"`      // "held", or what a person decided
	Text    string    `json:"text"`         // cause and action, by a person
	By      string    `json:"by,omitempty"` // who wrote Text
	Typed   time.Time `json:"typed,omitzero"`

	Actions []int  `json:"corrective_actions,omitempty"` // numbers of those about it
	Open    string `json:"open,omitempty"`               // what is missing before it is closed; empty: nothing
}

// An Alarm is one time somebody had to be told, and who was.
type Alarm struct {
	alerts.Occurrence
	LevelName string    `json:"level"` // ring, tell or note; hides the number of the embedded field
	Action    string    `json:"action"`
	Messages  []Message `json:"messages"`

	Judged *alerts.Judgement `json:"judged,omitempty"` // whether the ring was worth it; nil: nobody has said
}

// A Message is one thing that was to be told through one channel.
type Message struct {
	ID       int64            `json:"id"`
	Kind     alerts.EventKind `json:"kind"` // why it was sent
	Channel  string           `json:"channel"`
	Who      []string         `json:"who,omitempty"` // initials of those the channel reaches; none: it is nobody's
	Due      time.Time        `json:"due"`
	At       time.Time        `json:"at,omitzero"`       // end of the last attempt; zero: none yet
	Outcome  alerts.Outcome   `json:"outcome,omitempty"` // of the last attempt; empty: none yet
	Attempts int              `json:"attempts"`
	Receipt  string           `json:"receipt,omitempty"` // what the other side answered
	Error    string           `json:"error,omitempty"`
}

// An Entry is something a person said: a turn, a hand reading, a note, a command.
type Entry struct {
	Kind      process.CommandKind `json:"kind"`
	Happened  time.Time           `json:"happened"` // by the person's word
	Typed     time.Time           `json:"typed"`    // by the daemon's clock
	By        string              `json:"by"`
	Placement process.Placement   `json:"placement,omitempty"`
	Piece     string              `json:"piece,omitempty"`
	Value     float64             `json:"value,omitempty"` // hand reading, °C or pH; weighing, g; pieces counted
	Text      string              `json:"text,omitempty"`
	Photo     *Photo              `json:"photo,omitempty"`

	AfterReview bool `json:"after_review,omitempty"` // it was typed after the newest review

	ID     string   `json:"id,omitempty"`     // of its command: what a strike or a correction names
	Pieces []string `json:"pieces,omitempty"` // turned: which; empty is all
	Why    string   `json:"why,omitempty"`    // a stage was entered all the same
	Struck *Strike  `json:"struck,omitempty"` // nil: it counts
}

// A Strike says who struck out an entry, when and why. The entry stays on the record.
type Strike struct {
	ID      string    `json:"id"` // of the command that did it
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	Why     string    `json:"why,omitempty"`     // within the first minute it may be empty
	Instead bool      `json:"instead,omitempty"` // the entry of that ID stands in its place
}

// A Chain says how the journal was found when the record was made.
type Chain struct {
	Lines int64  `json:"lines"`
	Last  string `json:"last_hash"`      // hash of the last line, hex
	Fault string `json:"fault"`          // empty: every line follows from the one before
	Seal  *Seal  `json:"seal,omitempty"` // nil: nothing of the batch is sealed
}
