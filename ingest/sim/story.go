package sim

import (
	"iter"
	"slices"
	"time"

	"flitch/process"
)

// The batch of the story. Shop, town, people and numbers are invented.
const (
	StoryBatch = "OL-31-27"
	StoryShop  = "Oddwick Lane Larder, Varrowmere"
	StoryTitle = "The Warm Shed"
)

// Set points of Old Kettle in the story, °C: the plan the demo runs has to ask for
// the first two in its smoke and cook, or its fire alarms are about another cook.
// T.V. turns it up in the stall and down for the last degrees.
const (
	StorySmokeC  = 66.0
	StoryCookC   = 80.0
	StoryRaisedC = 90.0
	StoryLastC   = 74.0
)

// A Command is what a person of the story says. The driver turns it into a
// process.Command: it knows the plan and the numbers of the alarms.
type Command struct {
	At        time.Time // when it is said: always the time of its step
	Kind      process.CommandKind
	By        string            // initials
	Stage     process.StageName // stage; new: the stage the story starts in
	Pieces    []string          // turned, reading; empty is all
	Placement process.Placement // reading
	Value     float64           // reading, °C
	Text      string            //
	Dosing    *process.Dosing   // dosed
	Entry     string            // acknowledge: the alarm's entry in the catalogue, as C2; skip it if none stands
}

// A Step is one step of the driver: everything up to At. The samples were
// published before the commands were said.
type Step struct {
	At       time.Time
	Samples  []Sample
	Commands []Command
}

// A Story is one batch from cure to the end of a chill that was too slow. It is
// read once, from front to back.
type Story struct {
	shop   *shop
	events []event
}

// StorySeed is the seed of the demo.
const StorySeed = 1

// NewStory returns the story at its beginning. The seed changes the noise, not
// what happens.
func NewStory(seed uint64) *Story {
	return &Story{shop: newShop(clock(0, 9, 25), seed), events: timetable()}
}

// Pieces returns the slabs of the batch.
func (s *Story) Pieces() []process.Piece { return slices.Clone(pieces[:]) }

// Probes returns the probes of the story, those that are still silent too. All
// but the air probe of Alder, which is for the eye, belong to the batch.
func (s *Story) Probes() []*Probe { return slices.Clone(s.shop.probes) }

// Placed returns the probes of the batch and what each measures for it.
func (s *Story) Placed() []process.PlacedProbe {
	var placed []process.PlacedProbe
	for _, p := range s.shop.probes {
		if p.Placed.Place != "alder" || p.Placed.Placement != process.Air {
			placed = append(placed, p.Placed)
		}
	}
	return placed
}

// Steps yields the steps of the story: 5 min in the cure, 30 s in the smoke and
// cook, 60 s in the chill.
func (s *Story) Steps() iter.Seq[Step] {
	return func(yield func(Step) bool) {
		at := clock(0, 9, 30)
		for _, p := range paces {
			for ; at.Before(p.until); at = at.Add(p.step) {
				if !yield(s.step(at)) {
					return
				}
			}
		}
	}
}

// step lets the world run to at, with everything that happens on the way.
func (s *Story) step(at time.Time) Step {
	step := Step{At: at}
	for len(s.events) > 0 && !s.events[0].at.After(at) {
		e := s.events[0]
		s.events = s.events[1:]
		s.shop.Advance(e.at)
		if e.do != nil {
			e.do(s.shop)
		}
		for _, c := range e.say {
			c.At = at
			step.Commands = append(step.Commands, c)
		}
	}
	s.shop.Advance(at)
	step.Samples = s.shop.Samples()
	return step
}
