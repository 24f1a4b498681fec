package process

import "time"

// A Batch is one run of a plan: what was said about it, what its probes
// measured, and its clocks. All of it can be computed again from the input log;
// it is stored only so that the log need not be read from the start.
type Batch struct {
	ID      string       `json:"id"`
	By      string       `json:"by"`
	Started time.Time    `json:"started"`
	Closed  time.Time    `json:"closed,omitzero"`
	Now     time.Time    `json:"now"` // newest time any input told
	Plan    Plan         `json:"plan"`
	Pieces  []Piece      `json:"pieces"`
	Stages  []StageEntry `json:"stages"`
	Turns   []Turn       `json:"turns"`
	Hand    []HandEntry  `json:"hand"`
	Counts  []Count      `json:"counts,omitempty"`
	Notes   []NoteEntry  `json:"notes"`
	Tastes  []TasteEntry `json:"tastes,omitempty"`
	Costs   []CostEntry  `json:"costs,omitempty"`  // in the order they were typed
	Doses   []DoseEntry  `json:"doses,omitempty"`  // in the order they were taken; see Dose
	Struck  []Struck     `json:"struck,omitempty"` // taken back or corrected, in the order it was said
	Asked   *Dosing      `json:"asked,omitempty"`  // when it was begun; nil: nothing was

	Actions      []ActionEntry      `json:"corrective_actions,omitempty"` // these three in the order they were typed
	Dispositions []DispositionEntry `json:"dispositions,omitempty"`
	Reviews      []ReviewEntry      `json:"reviews,omitempty"`
	End          Ending             `json:"end,omitzero"` // who closed it

	Lost   []Lost    `json:"lost,omitempty"`  // time of which nobody knows when it was
	Jumped time.Time `json:"jumped,omitzero"` // where the clock last stepped to
	Tracks []*Track  `json:"tracks"`
	Fire   Fire      `json:"fire"`

	// Happenings is what the temperatures told of, in the order it was noticed.
	Happenings []Happening `json:"happenings"`

	// NeedsRecount is set when something arrived out of its time order: a late
	// reading, or an event typed after later readings were counted. The clocks
	// are then computed anew from the whole history, see Recount.
	NeedsRecount bool `json:"needs_recount"`

	// Imported is set when readings of a logger's file count in the batch.
	Imported bool `json:"imported,omitempty"`

	subject string
	grown   growthModels
}

// A StageEntry is one stage as it was entered.
type StageEntry struct {
	ID      string    `json:"id,omitempty"` // of its command, as in all entries
	Name    StageName `json:"name"`
	Entered time.Time `json:"entered"` // by the person's word
	Typed   time.Time `json:"typed"`   // by the daemon's clock
	Left    time.Time `json:"left,omitzero"`
	By      string    `json:"by"`
	Why     string    `json:"why,omitempty"` // it was entered all the same
}

// passedBy reports whether the stage was left the moment it was entered: nothing
// was done in it.
func (e StageEntry) passedBy() bool { return !e.Left.IsZero() && !e.Left.After(e.Entered) }

// A Turn is one turning of the slabs.
type Turn struct {
	ID     string    `json:"id,omitempty"`
	At     time.Time `json:"at"`
	Typed  time.Time `json:"typed"`
	By     string    `json:"by"`
	Pieces []string  `json:"pieces,omitempty"` // empty: all of them
}

// A HandEntry is a reading taken by hand and typed, or a weighing. Temperatures stand
// beside the measured ones and move no clock; a pH ends the degree-hours, and weights
// are what drying is judged by.
type HandEntry struct {
	ID        string    `json:"id,omitempty"`
	At        time.Time `json:"at"`
	Typed     time.Time `json:"typed"`
	By        string    `json:"by"`
	Placement Placement `json:"placement"`
	Piece     string    `json:"piece,omitempty"`
	Value     float64   `json:"value"`          // °C, g or pH by the placement
	Rung      Rung      `json:"rung,omitempty"` // of the yield ladder, for a weight
	Text      string    `json:"text,omitempty"`
}

// A Count is how many pieces a person counted, in which stage.
type Count struct {
	ID     string    `json:"id,omitempty"`
	At     time.Time `json:"at"`
	Typed  time.Time `json:"typed"`
	By     string    `json:"by"`
	Stage  StageName `json:"stage"`
	Way    Way       `json:"way,omitempty"` // in or out; empty: in it
	Pieces int       `json:"pieces"`
}

// A NoteEntry is free text.
type NoteEntry struct {
	ID    string    `json:"id,omitempty"`
	At    time.Time `json:"at"`
	Typed time.Time `json:"typed"`
	By    string    `json:"by"`
	Text  string    `json:"text"`
	Photo *Photo    `json:"photo,omitempty"` // nil: none
}

// A Photo is a picture that came with a note. Its bytes are kept beside the log, under
// their hash.
type Photo struct {
	SHA256 string `json:"sha256"` // of the JPEG file, lower-case hex
	Width  int    `json:"width"`  // pixels
	Height int    `json:"height"` // pixels
}

// newBatch makes the batch that a checked CommandNew describes.
func newBatch(c Command) *Batch {
	b := &Batch{ID: c.Batch, By: c.By, Started: c.At, Now: c.At, Plan: c.New.Plan, Pieces: c.New.Pieces, Asked: c.New.Asked}
	for _, p := range c.New.Probes {
		b.Tracks = append(b.Tracks, newTrack(p, c.New.Plan))
	}
	for _, u := range c.New.Units {
		if t := b.track(u.Probe); t != nil {
			t.Sieve.Unit, t.Sieve.Newest = u.Ask, u.Newest
		}
	}
	b.enter(c.New.Plan.Stages[0].Name, c)
	return b
}

// Subject is the name the batch goes by in findings and alarms.
func (b *Batch) Subject() string {
	if b.subject == "" { // made once: it is wanted for every reading
		b.subject = "batch " + b.ID
	}
	return b.subject
}

// Open reports whether the batch still takes readings and commands.
func (b *Batch) Open() bool { return b.Closed.IsZero() }

// Uses reports whether readings of the named probe belong to the batch.
func (b *Batch) Uses(probe string) bool { return b.track(probe) != nil }

func (b *Batch) track(probe string) *Track {
	for _, t := range b.Tracks {
		if t.Probe.Probe == probe {
			return t
		}
	}
	return nil
}

// tellsPlace is what says where the meat is, the surest first: what measures it or the
// air about it. A switch of a door or of the mains may hang elsewhere, and comes last.
var tellsPlace = []Placement{Product, Chamber, Air, WetBulb, Humidity, Weight, Door, Power}

// Place returns the place the batch is in now: that of the probe that is nearest to the
// meat in the kind of place its stage asks for, heard or not. Empty when the stage has
// no probe, as in the rinse.
func (b *Batch) Place() string {
	if !b.Open() {
		return ""
	}
	stage := b.Stage()
	for _, p := range tellsPlace {
		for _, t := range b.Tracks {
			if t.Probe.Placement == p && t.speaksIn(stage) {
				return t.Probe.Place
			}
		}
	}
	return ""
}

// eachTrack calls do for each track with the placement.
func (b *Batch) eachTrack(p Placement, do func(*Track)) {
	for _, t := range b.Tracks {
		if t.Probe.Placement == p {
			do(t)
		}
	}
}

// TurnedAt returns when the least recently turned piece was last turned, or the
// start of the cure if it never was.
func (b *Batch) TurnedAt() time.Time {
	oldest := time.Time{}
	for _, p := range b.Pieces {
		at := b.pieceTurned(p.Name)
		if oldest.IsZero() || at.Before(oldest) {
			oldest = at
		}
	}
	return oldest
}

func (b *Batch) pieceTurned(piece string) time.Time {
	last := b.cureStarted()
	for _, t := range b.Turns {
		if t.covers(piece) && t.At.After(last) {
			last = t.At
		}
	}
	return last
}

func (t Turn) covers(piece string) bool {
	if len(t.Pieces) == 0 {
		return true
	}
	for _, p := range t.Pieces {
		if p == piece {
			return true
		}
	}
	return false
}
