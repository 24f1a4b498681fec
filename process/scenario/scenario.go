package scenario

import (
	"time"

	"flitch/process"
)

// A Scenario is one night as it was written.
type Scenario struct {
	Comments []string // at the top
	Title    string
	Batch    string
	By       string
	Begins   time.Time // in the zone it was written in; the clock of all times
	Zone     string    // IANA name, for what people are told; empty: the clock of the scenario
	Seed     uint64    // of the noise
	Plan     string
	Fuel     string   // electric or wood
	Persons  []Person // in the order they are called; none: one phone that is told of everything
	Pieces   []process.Piece
	Places   []Place
	Probes   []process.PlacedProbe
	Lines    []Line
}

// A Place is a fridge, a smoker, a freezer or a room.
type Place struct {
	Name string
	Kind process.Where
}

// A Line is one thing that happened or is expected.
type Line struct {
	Number int // of the file, from 1
	Item   Item
}

// An Item is a Comment, a Series, a Mark, an Away, a Single, an Event or an Expectation.
type Item interface {
	// text is the line as Format writes it.
	text(c clock) string
}

// A Comment is a line that is not read.
type Comment string

func (c Comment) text(clock) string {
	if c == "" {
		return "#"
	}
	return "# " + string(c)
}

const (
	defaultBatch       = "night"
	defaultBy          = "night"
	defaultSeed        = 1
	defaultFuel        = "wood"
	defaultUncertainty = 0.5 // K (cook-cool-hold specification 1.4)
)

// clock is the clock of the scenario.
func (s *Scenario) clock() clock { return clock{s.Begins} }

// At is the time of a moment since the beginning.
func (s *Scenario) At(since time.Duration) time.Time { return s.Begins.Add(since).UTC() }

func (s *Scenario) probe(name string) *process.PlacedProbe {
	for i := range s.Probes {
		if s.Probes[i].Probe == name {
			return &s.Probes[i]
		}
	}
	return nil
}

func (s *Scenario) hasPlace(name string) bool {
	for _, p := range s.Places {
		if p.Name == name {
			return true
		}
	}
	return false
}

func (s *Scenario) hasPiece(name string) bool {
	for _, p := range s.Pieces {
		if p.Name == name {
			return true
		}
	}
	return false
}

// Expectations returns what is expected, with the lines it stands in.
func (s *Scenario) Expectations() (list []Expectation, lines []int) {
	for _, l := range s.Lines {
		if e, ok := l.Item.(Expectation); ok {
			list, lines = append(list, e), append(lines, l.Number)
		}
	}
	return list, lines
}

// Text is an item as Format writes it.
func (s *Scenario) Text(i Item) string { return i.text(s.clock()) }

// Stamp is a time on the clock of the scenario, as it would be written in it, to the
// minute.
func (s *Scenario) Stamp(at time.Time) string {
	return s.clock().text(max(at.Sub(s.Begins), 0).Truncate(time.Minute))
}
